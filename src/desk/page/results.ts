// What a search found, and what a patch is to be warned of, that nobody told this page: read from their files.
import { signal, useSignalEffect } from '@preact/signals'
import type { Patch } from '../../repair/hand-over/patch.js'
import type { Result } from '../../search/result.js'
import { fileAddress, refusal } from './api.js'
import { attempt, type Live, live, type Row, search, shotName } from './state.js'

const reading = new Set<string>()

/** Reads the result of the search that is looked at, once it is there. */
export function useResults(): void {
  useSignalEffect(() => {
    const [name, run] = [shotName.value, search.value]
    if (!name || run?.state !== 'done') return
    const key = `${name}/${run.folder}`
    if (results.has(key) || reading.has(key)) return
    reading.add(key)
    void attempt('choose', async () => {
      const result = await read<Result>(fileAddress(name, `${run.folder}/result.json`))
      results.set(key, result)
      if (shotName.value !== name) return
      const known: Live = {
        ...live.value.get(run.folder),
        candidates: result.candidates,
        rows: rowsOf(result),
      }
      live.value = new Map(live.value).set(run.folder, known)
    }).finally(() => reading.delete(key))
  })
}

/** What was read, by shot and folder; a result never changes. */
const results = new Map<string, Result>()

export function resultOf(folder: string): Result | null {
  return results.get(`${shotName.value}/${folder}`) ?? null
}

/** Of each patch that was written, by shot and folder; it never changes. */
const patchWarnings = signal<ReadonlyMap<string, readonly string[]>>(new Map())

/** Reads what the patches of the search that is looked at are to be warned of, once each is there. */
export function usePatches(): void {
  useSignalEffect(() => {
    const [name, run] = [shotName.value, search.value]
    for (const { folder, state } of run?.patches ?? []) {
      const key = `${name}/${folder}`
      if (name === null || state !== 'done' || patchWarnings.value.has(key) || reading.has(key)) continue
      reading.add(key)
      void attempt('patch', async () => {
        const { warnings } = await read<Patch>(fileAddress(name, `${folder}/patch.json`))
        patchWarnings.value = new Map(patchWarnings.value).set(key, warnings)
      }).finally(() => reading.delete(key))
    }
  })
}

export function warningsOfPatch(folder: string): readonly string[] {
  return patchWarnings.value.get(`${shotName.value}/${folder}`) ?? []
}

async function read<T>(address: string): Promise<T> {
  const response = await fetch(address)
  if (!response.ok) throw await refusal(response)
  return response.json()
}

function rowsOf({ matrix }: Result): ReadonlyMap<number, Row> {
  if (!matrix) return new Map()
  const donors = matrix.donors.map(({ plate, frame }) => [plate, frame] as const)
  return new Map(matrix.targets.map((target, i) => [target, { donors, quality: matrix.quality[i] }]))
}
