// Accept, keep for later, reject, with a note.
import { stands } from '../../sheet/data/decided-text.js'
import { DECISION_WORDS } from '../../sheet/data/decision-words.js'
import type { Choice } from '../../sheet/data/decisions.js'
import { capital } from '../../sheet/data/words.js'
import { canDecide, choose, decisionOf, noteOf, setNote } from './decisions-file.js'
import { Text } from './fields.js'

export function Decide({ id }: { id: string }) {
  if (!canDecide()) return null
  const decision = decisionOf(id)
  return (
    <fieldset class="choice">
      <legend>Decide</legend>
      <div class="buttons">
        {(Object.keys(DECISION_WORDS) as Choice[]).map((choice) => (
          <button
            type="button"
            key={choice}
            aria-pressed={decision?.decision === choice}
            onClick={() => choose(id, choice)}
          >
            {capital(DECISION_WORDS[choice])}
          </button>
        ))}
      </div>
      <p class="note" role="status">
        {stands(id, decision)}
      </p>
      <Text label="Note" wide value={noteOf(id)} onCommit={(text) => setNote(id, text)} />
    </fieldset>
  )
}
