// What stands over the candidates: their order, which of them are shown, and what comes out. Needs the script.
import type { Result } from '../../search/result.js'
import { INITIALS_LENGTH } from '../data/decision-words.js'
import { measures } from '../data/measures.js'

export function Tools({ result }: { result: Result }) {
  const { candidates, donors } = result
  const kinds = [...new Set(candidates.map((c) => c.kind))]
  const verdicts = [...new Set(candidates.map((c) => c.verdict))]
  const plates = [...new Set(candidates.map((c) => c.donor))]
  return (
    <div class="tools scripted-only" id="tools">
      <div class="tools-order">
        <label>
          Sort by{' '}
          <select id="sort">
            <option value="rank">rank</option>
            {measures().map(({ key, label }) => (
              <option value={key}>{label}</option>
            ))}
          </select>
        </label>
        <Tick name="kind" legend="Kind" values={kinds} />
        <Tick name="verdict" legend="Verdict" values={verdicts} />
        {plates.length > 1 ? (
          <label>
            Donor{' '}
            <select id="donor">
              <option value="">any plate</option>
              {plates.map((plate) => (
                <option value={String(plate)}>{donors[plate]?.plate}</option>
              ))}
            </select>
          </label>
        ) : null}
        <output id="shown-count" for="sort" />
      </div>
      <div class="tools-out">
        <output id="tally" />
        <label>
          Initials{' '}
          <input
            type="text"
            id="initials"
            size={4}
            maxLength={INITIALS_LENGTH}
            autocomplete="off"
            spellcheck={false}
          />
        </label>
        <button type="button" id="save">
          Save decisions
        </button>
        <button type="button" id="load">
          Load
        </button>
        <input
          type="file"
          id="load-file"
          accept=".json,application/json"
          hidden
          aria-label="Decisions file"
        />
        <button type="button" id="keys">
          Keys <kbd>?</kbd>
        </button>
      </div>
      <p id="told" role="status" />
    </div>
  )
}

function Tick({ name, legend, values }: { name: string; legend: string; values: readonly string[] }) {
  if (values.length < 2) return null
  return (
    <fieldset class="ticks">
      <legend>{legend}</legend>
      {values.map((value) => (
        <label>
          <input type="checkbox" name={name} value={value} checked /> {value}
        </label>
      ))}
    </fieldset>
  )
}
