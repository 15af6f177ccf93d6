// What a search found that nobody told this page of: read from its result file.
import { useSignalEffect } from '@preact/signals'
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
      const result = await read(fileAddress(name, `${run.folder}/result.json`))
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

async function read(address: string): Promise<Result> {
  const response = await fetch(address)
  if (!response.ok) throw await refusal(response)
  return response.json()
}

function rowsOf({ matrix }: Result): ReadonlyMap<number, Row> {
  if (!matrix) return new Map()
  const donors = matrix.donors.map(({ plate, frame }) => [plate, frame] as const)
  return new Map(matrix.targets.map((target, i) => [target, { donors, quality: matrix.quality[i] }]))
}
