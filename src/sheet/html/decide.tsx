// Saying yes, later or no to a candidate, with a note. The buttons need the script; what was decided is there without.
import { decidedText } from '../data/decided-text.js'
import { DECISION_WORDS, NOTE_LENGTH } from '../data/decision-words.js'
import type { Choice, Decision } from '../data/decisions.js'

const CHOICES: readonly Choice[] = ['accept', 'later', 'reject']

export function Decide({ id, name, decision }: { id: string; name: string; decision?: Decision }) {
  return (
    <div class="decide">
      <p class="decided" data-part="decided">
        {decision ? decidedText(decision) : ''}
      </p>
      <fieldset class="choose scripted-only">
        <legend class="unseen">Decide on {name}</legend>
        {CHOICES.map((choice) => (
          <button
            type="button"
            data-choice={choice}
            aria-pressed={decision?.decision === choice ? 'true' : 'false'}
          >
            {DECISION_WORDS[choice].replace(/^./, (c) => c.toUpperCase())}
          </button>
        ))}
        <input
          type="text"
          id={`${id}-note`}
          data-part="note"
          aria-label={`Note on ${name}`}
          placeholder="Note"
          maxLength={NOTE_LENGTH}
          autocomplete="off"
          value={decision?.note ?? ''}
        />
      </fieldset>
    </div>
  )
}
