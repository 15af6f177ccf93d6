// The decisions file of the search that is looked at: read once it is done, saved whole with every decision.
import { signal, useSignalEffect } from '@preact/signals'
import { NOTE_LENGTH } from '../../sheet/data/decision-words.js'
import type { Choice, Decision, Decisions } from '../../sheet/data/decisions.js'
import { api } from './api.js'
import { attempt, search, shotName } from './state.js'

const known = signal<{ readonly shot: string; readonly folder: string; readonly file: Decisions } | null>(
  null,
)
/** What was written before anything was decided, by candidate. */
const notes = signal<ReadonlyMap<string, string>>(new Map())

/** The file with a decision in it; the same choice again takes it back. @param at ISO time */
function withChoice(file: Decisions, candidate: string, choice: Choice, note: string, at: string): Decisions {
  const before = file.decisions.find((each) => each.candidate === candidate)
  const others = file.decisions.filter((each) => each !== before)
  if (before?.decision === choice) return { ...file, decisions: others }
  const initials = before?.initials ?? ''
  return { ...file, decisions: [...others, { candidate, decision: choice, note, initials, at }] }
}

export function useDecisions(): void {
  useSignalEffect(() => {
    const [shot, run] = [shotName.value, search.value]
    if (!shot || run?.state !== 'done') return
    if (known.peek()?.shot === shot && known.peek()?.folder === run.folder) return
    notes.value = new Map()
    void attempt('choose', async () => {
      known.value = { shot, folder: run.folder, file: await api.decisions(shot, run.folder) }
    })
  })
}

/** Whether the file has come, so that something can be decided. */
export function canDecide(): boolean {
  return known.value?.shot === shotName.value && known.value?.folder === search.value?.folder
}

export function decisionOf(candidate: string): Decision | undefined {
  return known.value?.file.decisions.find((each) => each.candidate === candidate)
}

export function noteOf(candidate: string): string {
  return decisionOf(candidate)?.note ?? notes.value.get(candidate) ?? ''
}

export function choose(candidate: string, choice: Choice): void {
  if (!known.value || !canDecide()) return
  void save(withChoice(known.value.file, candidate, choice, noteOf(candidate), new Date().toISOString()))
}

/** A note on what is decided already; without a decision it waits for one. */
export function setNote(candidate: string, text: string): void {
  const note = text.slice(0, NOTE_LENGTH)
  notes.value = new Map(notes.value).set(candidate, note)
  const before = decisionOf(candidate)
  if (!before || !known.value) return
  const { file } = known.value
  const others = file.decisions.filter((each) => each !== before)
  void save({ ...file, decisions: [...others, { ...before, note }] })
}

/** Shown at once; what the server refuses is taken back. */
async function save(file: Decisions): Promise<void> {
  const before = known.value!
  known.value = { ...before, file }
  const done = await attempt('choose', () => api.decide(before.shot, before.folder, file))
  if (!done && known.value?.file === file) known.value = before
}
