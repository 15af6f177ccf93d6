// Did you mean …?: the name that was most likely meant by one that is not there.
import { distance } from 'fastest-levenshtein'

/** Slips of the keyboard in one name: no more than this, nor than a third of its letters before a file's ending. */
const MAX_SLIPS = 3
const ENDING = /\.[a-z][a-z0-9]*$/

/** The nearest of some names, upper and lower case alike; null where none is near. Of equally near ones the first. */
export function nearMiss(name: string, among: readonly string[]): string | null {
  const meant = name.toLowerCase()
  let nearest: string | null = null
  const { length } = meant.replace(ENDING, '')
  let least = Math.min(MAX_SLIPS, Math.ceil(length / 3)) + 1
  for (const one of among) {
    const slips = distance(meant, one.toLowerCase())
    if (slips >= least) continue
    least = slips
    nearest = one
  }
  return nearest
}
