// What each number of the sheet means, and how much of it is wanted.
import { LIMITS, type MeasureKey } from '../../search/measures.js'
import { finishLabel } from '../data/finish-words.js'
import { figures, measures } from '../data/measures.js'
import { withMinus } from '../data/minus.js'

/** Where a row's numbers lead to; a browser unfolds what it leads into. */
export const MEANINGS_ID = 'meanings'
/** Of the repaired frames beside the plate. */
export const FINISH_ON_SHEET = ['noise', 'spectrum', 'flicker'] as const

export function Meanings() {
  return (
    <details>
      <summary>What the numbers mean</summary>
      <dl class="meanings" id={MEANINGS_ID}>
        {measures().map(({ key, label, meaning }) => (
          <Meaning label={label} meaning={meaning} wanted={wantedOf(key)} />
        ))}
        <Meaning
          label="dx, dy"
          meaning="2D offset that moves the donor onto the target: x to the right, y down"
        />
        {FINISH_ON_SHEET.map((key) => (
          <Meaning {...finishLabel(key)} />
        ))}
      </dl>
    </details>
  )
}

function Meaning({ label, meaning, wanted }: { label: string; meaning: string; wanted?: string }) {
  return (
    <div>
      <dt>{label}</dt>
      <dd>
        {withMinus(meaning)}
        {wanted === undefined ? '' : `; wanted: ${wanted}`}
      </dd>
    </div>
  )
}

/** What holds up, in words: "at least 0.98", "0.7 to 1.3". */
function wantedOf(key: MeasureKey): string {
  const [least, most] = LIMITS[key].holds
  const [low, high] = [figures(key, least), figures(key, most)]
  if (!Number.isFinite(most)) return `at least ${low}`
  return Number.isFinite(least) && least !== 0 ? `${low} to ${high}` : `at most ${high}`
}
