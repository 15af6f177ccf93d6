// Which donor lends where, of a mosaic: areas with their frame numbers, and what each was moved and lit by.
import { percent } from '../../search/measures.js'
import type { FrameMatch, Result } from '../../search/result.js'
import { numbered, type PieceArea } from '../data/pieces.js'
import { offsetSpan } from '../data/words.js'
import { InPlatePixels, useProjected } from './projected.js'
import type { ShownRow } from './shown.js'

/** Greys that neighbours differ by; the numbers say which is which. */
const SHADES = 6
/** Height of a number, as a share of the picture's. */
const NUMBER_SHARE = 0.09
/** Width of a digit over the height of its letters, about. */
const DIGIT = 0.6

export function PieceMap({ row, result }: { row: ShownRow; result: Result }) {
  return row.pieces.length === 0 ? null : <Pieces row={row} result={result} />
}

function Pieces({ row, result }: { row: ShownRow; result: Result }) {
  const { candidate, pieces, rect } = row
  const match = candidate.frames[row.shown]
  const { w, h } = useProjected(rect)
  const aspect = w / rect.w
  const size = NUMBER_SHARE * Math.max(h, w / 2)
  const named = pieces.map(({ frame, share }) => `${frame} ${percent(share)}`).join(', ')
  return (
    <div class="piece-map">
      <figure>
        <svg
          class="picture"
          viewBox={`0 0 ${w} ${h}`}
          preserveAspectRatio="xMinYMid"
          role="img"
          aria-label={`Which donor frame lends where: ${named}`}
        >
          <rect class="piece-ground" width={w} height={h} />
          <InPlatePixels>
            {pieces.map((area, i) => (
              <path class={`piece piece-${i % SHADES}`} d={area.fill} />
            ))}
            {pieces.map((area) => (
              <path class="outline" d={area.outline} />
            ))}
          </InPlatePixels>
          {numbered(pieces, (DIGIT * size * Math.max(...pieces.map(digits))) / aspect, size).map((area) => (
            <text class="piece-number" x={area.x * aspect} y={area.y} font-size={size}>
              {area.frame}
            </text>
          ))}
        </svg>
        <figcaption>
          which donor lends where, on <b>{match.target}</b>
        </figcaption>
      </figure>
      <table class="frames">
        <caption>Its pieces</caption>
        <thead>
          <tr>
            {['donor', 'share', 'dx', 'dy', 'stops'].map((name) => (
              <th scope="col">{name}</th>
            ))}
          </tr>
        </thead>
        <tbody>
          {pieces.map((area) => (
            <PieceLine area={area} match={match} result={result} />
          ))}
        </tbody>
      </table>
    </div>
  )
}

function PieceLine({ area, match, result }: { area: PieceArea; match: FrameMatch; result: Result }) {
  const piece = match.pieces!.find((p) => p.frame === area.frame && p.plate === area.plate)!
  const [r, g, b] = piece.gain
  const stops = Math.log2(0.2126 * r + 0.7152 * g + 0.0722 * b)
  return (
    <tr>
      <th scope="row">
        {area.frame}
        {area.plate === 0 ? '' : ` of ${result.donors[area.plate].plate}`}
      </th>
      <td>{percent(area.share)}</td>
      <td>{offsetSpan([piece.dx])}</td>
      <td>{offsetSpan([piece.dy])}</td>
      <td>{offsetSpan([stops])}</td>
    </tr>
  )
}

function digits({ frame }: PieceArea): number {
  return String(frame).length
}
