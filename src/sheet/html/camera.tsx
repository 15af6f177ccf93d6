// Where each frame looks, as a small drawing.
import type { Result } from '../../search/result.js'
import { type CameraPath, cameraPath } from '../data/camera-path.js'
import { cameraWords } from '../data/camera-words.js'
import { capital } from '../data/words.js'
import { InPlatePixels, useProjected } from './projected.js'

const MOST = { width: 320, height: 240 }

export function CameraFigure({ result }: { result: Result }) {
  const path = cameraPath(result, MOST)
  return path === null ? null : <Drawn path={path} result={result} />
}

function Drawn({ path, result }: { path: CameraPath; result: Result }) {
  const { width, height, ends } = path
  const { w } = useProjected({ w: width, h: height })
  const aspect = w / width
  // Outwards, so that no number lies on the line.
  const middle = ends.reduce((sum, { x }) => sum + x, 0) / ends.length
  return (
    <figure class="camera">
      <svg
        class="camera-path"
        viewBox={`0 0 ${w} ${height}`}
        role="img"
        aria-label="Outlines of the frames where they look, the way of their middles, and the region"
      >
        <InPlatePixels>
          <path class="camera-take" d={path.takes} />
          <path class="camera-frame" d={path.frames} />
          <path class="camera-target" d={path.targets} />
          {path.region === null ? null : <path class="place-region" d={path.region} />}
          <path class="camera-line" d={path.path} />
          <path class="camera-blind" d={path.blind} />
          <path class="camera-seeing" d={path.seeing} />
        </InPlatePixels>
        {ends.map(({ frame, x, y }) => (
          <text x={x * aspect + (x < middle ? -8 : 8)} y={y + 4} text-anchor={x < middle ? 'end' : 'start'}>
            {frame}
          </text>
        ))}
      </svg>
      <figcaption>
        <p>
          Where the frames look: white are the target frames,{' '}
          {path.takes === '' ? '' : 'dashed other takes, '}a large dot is a frame that sees all of the region
        </p>
        {cameraWords(result).map((sentence) => (
          <p>{capital(sentence)}</p>
        ))}
      </figcaption>
    </figure>
  )
}
