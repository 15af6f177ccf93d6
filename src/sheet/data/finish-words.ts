// What a repaired region looks like beside the plate, in figures.
import { FINISH_LIMITS, type WholeFinish } from '../../repair/finish/finish.js'
import { wantedOf } from '../../repair/finish/words.js'
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

/** A number, or one for each channel; a dash where there is none. Whether it is within its limits: of what has none always. */
export function finishWords<K extends Key>(
  key: K,
  value: WholeFinish[K],
): { figures: string; holds: boolean } {
  if (value === null) return { figures: '–', holds: true }
  const values: readonly number[] = typeof value === 'number' ? [value] : value
  const figures = values.map((v) => plain(v, 2)).join(', ')
  if (key === 'spectrum') return { figures: `${figures} dB apart`, holds: true }
  const [least, most] = FINISH_LIMITS[key as Exclude<Key, 'spectrum'>]
  return { figures, holds: values.every((v) => v >= least && v <= most) }
}
