// What a repaired region looks like beside the plate, in figures.
import { limitsWith, type WholeFinish } from '../../repair/finish/finish.js'
import type { Strays } from '../../repair/finish/stray.js'
import { strayIn, wantedOf } from '../../repair/finish/words.js'
import { plain } from './measures.js'

type Key = 'noise' | 'spectrum' | 'flicker' | 'seam'

const LABELS: Readonly<Record<Key, readonly [label: string, meaning: string]>> = {
  noise: ['noise R, G, B', 'noise inside over that of the surround, at the same light'],
  spectrum: ['noise spectrum', 'how far the spectrum of the noise inside lies from that of the surround'],
  flicker: ['flicker', 'change from frame to frame inside over that of the surround, at the same light'],
  seam: ['seam', 'step across the border of the repair, in units of grain'],
}

/** What a number is called, what it says, and its limits in words. */
export function finishLabel(key: Key): { label: string; meaning: string; wanted: string } {
  const [label, meaning] = LABELS[key]
  return { label, meaning, wanted: key === 'spectrum' ? 'near 0' : wantedOf(key) }
}

/** A number within its limits, beyond them as the plate itself strays beside the patch, or beyond that. */
export type Standing = 'within' | 'strays' | 'beyond'

/** A number, or one for each channel; a dash where there is none. How it stands to its limits: what has none is within. */
export function finishWords<K extends Key>(
  key: K,
  value: WholeFinish[K],
  strays: Strays | null | undefined,
): { figures: string; standing: Standing } {
  if (value === null) return { figures: '–', standing: 'within' }
  const values: readonly number[] = typeof value === 'number' ? [value] : value
  const figures = values.map((v) => plain(v, 2)).join(', ')
  if (key === 'spectrum') return { figures: `${figures} dB apart`, standing: 'within' }
  const measure = key as Exclude<Key, 'spectrum'>
  const holds = (stray: number) => {
    const [least, most] = limitsWith(measure, stray)
    return values.every((v) => v >= least && v <= most)
  }
  return {
    figures,
    standing: holds(0) ? 'within' : holds(strayIn(measure, strays?.all)) ? 'strays' : 'beyond',
  }
}
