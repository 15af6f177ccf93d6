// The course of frames: where the viewer stands, moving along it, playing it.
import { figures } from '../../data/measures.js'
import { count } from '../../data/words.js'
import { atFrame, type Look, RATES } from './look.js'
import { targetOf, type ViewerData, wholeFor } from './viewer-data.js'

export function Course(props: {
  look: Look
  data: ViewerData
  way: number
  setLook: (f: (now: Look) => Look) => void
}) {
  const { look, data, way, setLook } = props
  const { frames } = data.ways[way]
  const [at, donor, seam] = frames[look.frame]
  const target = targetOf(data, way, look.frame).frame
  const round = look.whole ? wholeFor(data, at) : null
  const carried = frames.length
  return (
    <div class="course">
      <button
        type="button"
        class="play"
        disabled={carried < 2}
        onClick={() => setLook((now) => ({ ...now, playing: !now.playing }))}
      >
        {look.playing ? 'Stop' : 'Play'}
      </button>
      <label>
        at{' '}
        <select
          aria-label="Rate"
          value={String(look.rate)}
          onChange={(event) => {
            const rate = Number(event.currentTarget.value)
            setLook((now) => ({ ...now, rate }))
          }}
        >
          {RATES.map((rate) => (
            <option value={String(rate)}>{rate} fps</option>
          ))}
        </select>
      </label>
      <input
        type="range"
        class="scrub"
        aria-label="Frame"
        aria-valuetext={`target frame ${target}`}
        min={0}
        max={Math.max(1, carried - 1)}
        disabled={carried < 2}
        step={1}
        value={look.frame}
        onInput={(event) => {
          const frame = Number(event.currentTarget.value)
          setLook((now) => atFrame({ ...now, playing: false }, data, frame))
        }}
      />
      <p class="course-frame">
        target <b id="closer-target">{target}</b> donor <b>{donor}</b> seam <b>{figures('seam', seam)}</b>
      </p>
      {round && round.frame !== target ? (
        <p class="note">Round the region: frame {round.frame}, the nearest that is here whole.</p>
      ) : null}
      {carried < data.count ? <p class="note">{whyFewer(data, way)}</p> : null}
    </div>
  )
}

/** Why not all frames are here. */
function whyFewer({ ways, count: all }: ViewerData, way: number): string {
  const { fewer, frames } = ways[way]
  if (fewer !== null) return fewer
  const carried =
    frames.length === 1 ? 'Its weakest frame alone' : `${count(frames.length, 'frame')} of ${all}`
  return `${carried}: the page has no room for more.`
}
