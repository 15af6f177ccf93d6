// Accept, keep for later, reject: into the decisions file of the result, with a note.
import { signal, useSignalEffect } from '@preact/signals'
import { stands } from '../../sheet/data/decided-text.js'
import { type Choice, DECISION_WORDS, type Decisions, NOTE_LENGTH } from '../../sheet/data/decisions.js'
import { capital } from '../../sheet/data/words.js'
import type { SearchRun } from '../shot-state.js'
import { api } from './api.js'
import { Text } from './fields.js'
import { attempt, search, shotName } from './state.js'

/** The file of the search that is looked at. */
const decisions = signal<{ readonly folder: string; readonly file: Decisions } | null>(null)
/** What was written before anything was decided. */
const notes = signal<ReadonlyMap<string, string>>(new Map())

/** The file with a decision in it; the same choice again takes it back. */
export function decided(
  file: Decisions,
  candidate: string,
  choice: Choice,
  note: string,
  at: string,
): Decisions {
  const known = file.decisions.find((each) => each.candidate === candidate)
  const others = file.decisions.filter((each) => each !== known)
  if (known?.decision === choice) return { ...file, decisions: others }
  const initials = known?.initials ?? ''
  return { ...file, decisions: [...others, { candidate, decision: choice, note, initials, at }] }
}

export function useDecisions(): void {
  useSignalEffect(() => {
    const [name, run] = [shotName.value, search.value]
    if (!name || run?.state !== 'done' || decisions.peek()?.folder === `${name}/${run.folder}`) return
    void attempt('choose', async () => {
      decisions.value = { folder: `${name}/${run.folder}`, file: await api.decisions(name, run.folder) }
    })
  })
}

export function Decide({ run, id }: { run: SearchRun; id: string }) {
  const known = decisions.value
  if (known?.folder !== `${shotName.value}/${run.folder}`) return null
  const one = known.file.decisions.find(({ candidate }) => candidate === id)
  const note = one?.note ?? notes.value.get(id) ?? ''
  const save = async (file: Decisions) => {
    const before = decisions.value
    decisions.value = { ...known, file }
    const done = await attempt('choose', () => api.decide(shotName.value!, run.folder, file))
    if (!done) decisions.value = before
  }
  return (
    <fieldset class="choice">
      <legend>Decide</legend>
      <div class="buttons">
        {(Object.keys(DECISION_WORDS) as Choice[]).map((choice) => (
          <button
            type="button"
            key={choice}
            aria-pressed={one?.decision === choice}
            onClick={() => save(decided(known.file, id, choice, note, new Date().toISOString()))}
          >
            {capital(DECISION_WORDS[choice])}
          </button>
        ))}
      </div>
      <p class="note" role="status">
        {stands(id, one)}
      </p>
      <Text
        label="Note"
        wide
        value={note}
        onCommit={(text) => {
          const cut = text.slice(0, NOTE_LENGTH)
          notes.value = new Map(notes.value).set(id, cut)
          if (!one) return
          const others = known.file.decisions.filter((each) => each !== one)
          void save({ ...known.file, decisions: [...others, { ...one, note: cut }] })
        }}
      />
    </fieldset>
  )
}
