// Step 4, choose: the candidates as they rank, with their words and numbers; the picked one beside the target.
import { MEASURE_KEYS, measureOf } from '../../search/measures.js'
import type { Candidate } from '../../search/result.js'
import { figures, scoreFigures } from '../../sheet/data/measures.js'
import { withMinus } from '../../sheet/data/minus.js'
import { capital, inWords, VERDICT_MARK } from '../../sheet/data/words.js'
import { fileAddress } from './api.js'
import { lookCloser } from './closer.js'
import { Command } from './command.js'
import { Compared } from './compared.js'
import { Decide } from './decide.js'
import { cell } from './looking.js'
import { Nudge } from './nudge.js'
import { resultOf } from './results.js'
import { Said } from './said.js'
import { Progress } from './search.js'
import {
  candidate,
  candidatePicked,
  frame,
  goTo,
  search,
  searchPicked,
  shotName,
  state,
  step,
  told,
} from './state.js'
import { Warned } from './warned.js'

export function Candidates() {
  const run = search.value
  if (!run) {
    return (
      <>
        <p>Nothing has been searched yet.</p>
        <button
          type="button"
          class="main"
          onClick={() => {
            step.value = 'search'
          }}
        >
          Go to the search
        </button>
      </>
    )
  }
  const all = told.value.candidates ?? []
  return (
    <>
      <Searches />
      {run.state === 'running' ? <Progress /> : null}
      {run.state === 'failed' ? <p class="trouble">{run.message ?? 'The search failed.'}</p> : null}
      <Warned warnings={resultOf(run.folder)?.warnings ?? []} />
      {all.length === 0 && run.state === 'done' ? (
        <p>No frame that could lend this region was found.</p>
      ) : null}
      <ol class="candidates">
        {all.map((each, i) => (
          <One each={each} rank={i + 1} key={each.id} />
        ))}
      </ol>
      <Said place="choose" />
      <Command command={run.command} name="The command of this search" />
    </>
  )
}

/** Where a shot was searched more than once. */
function Searches() {
  const { searches } = state.value!
  if (searches.length < 2) return null
  return (
    <label class="field">
      <span>Search</span>
      <select
        value={search.value?.folder}
        onChange={(event) => {
          searchPicked.value = event.currentTarget.value
          candidatePicked.value = null
        }}
      >
        {searches.map(({ folder, state: how }) => (
          <option value={folder} key={folder}>
            {folder}, {how}
          </option>
        ))}
      </select>
    </label>
  )
}

function One({ each, rank }: { each: Candidate; rank: number }) {
  const picked = candidate.value?.id === each.id
  return (
    <li class={`candidate ${picked ? 'picked' : ''}`} data-candidate={each.id}>
      <button
        type="button"
        class="candidate-head"
        aria-pressed={picked}
        onClick={() => {
          candidatePicked.value = each.id
          cell.value = null
          if (!each.frames.some(({ target }) => target === frame.value)) goTo(each.frames[0].target)
        }}
      >
        <span class="candidate-rank">{rank}</span>
        <span class="candidate-words">
          <b>{capital(inWords(each))}</b>
          <span>{each.id}</span>
        </span>
        <span class="candidate-verdict">
          <span>
            <span aria-hidden="true">{VERDICT_MARK[each.verdict]}</span> {each.verdict}
          </span>
          <span>{scoreFigures(each.score)}</span>
        </span>
      </button>
      {picked ? <Opened each={each} /> : null}
    </li>
  )
}

function Opened({ each }: { each: Candidate }) {
  const run = search.value!
  return (
    <div class="candidate-open">
      {each.why ? <p class="why">{capital(withMinus(each.why))}</p> : null}
      <Compared />
      {run.state === 'done' ? (
        <div class="line">
          <button type="button" onClick={() => lookCloser(run.folder, each.id)}>
            Look closer
          </button>
          <a href={fileAddress(shotName.value!, `${run.folder}/sheet.html`)} target="_blank" rel="noreferrer">
            Its sheet
          </a>
        </div>
      ) : null}
      {run.state === 'done' ? <Decide id={each.id} /> : null}
      {run.state === 'done' ? <Nudge /> : null}
      <details>
        <summary>Numbers</summary>
        <table>
          <tbody>
            {MEASURE_KEYS.map((key) => (
              <tr key={key}>
                <th scope="row" title={measureOf(key).meaning}>
                  {measureOf(key).label}
                </th>
                <td>{figures(key, each[key])}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </details>
      {run.state === 'done' ? (
        <button
          type="button"
          class="main"
          onClick={() => {
            step.value = 'patch'
          }}
        >
          Patch with this one
        </button>
      ) : null}
    </div>
  )
}
