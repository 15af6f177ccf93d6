// Options that several commands share, and their values made from text.
import { Option } from 'commander'
import { ENCODINGS } from '../colour/encoding.js'
import { misuse } from '../errors.js'
import type { Rect } from '../raster/rect.js'

/** An option that takes one of some names; a misspelt one is told the nearest. */
export function oneOf(flags: string, description: string, names: readonly string[]): Option {
  const option = new Option(flags, description).choices(names)
  return option.argParser((name: string) => {
    if (names.includes(name)) return name
    throw misuse(option.long!, `one of ${names.join(', ')}`, name, { among: names })
  })
}

export function encodingOption(): Option {
  return new Option(
    '--encoding <name>',
    `how code values stand for light: auto, ${ENCODINGS.join(', ')}`,
  ).default('auto')
}

export function layerOption(): Option {
  return new Option('--layer <name>', 'the layer of an EXR with several')
}

export function lookOption(): Option {
  return new Option(
    '--look <file.cube>',
    'see all pictures through this look, never what is delivered: it gets the plate’s code values; of a linear plate ACEScct, or the light itself where the cube reaches beyond 1',
  )
}

export function overwriteOption(): Option {
  return new Option('--overwrite', 'replace files of an earlier run')
}

/** @throws MISUSE */
export function parseBox(text: string, flag = '--box'): Rect {
  // An empty part is a slip, not a 0.
  const numbers = text.split(',').map((part) => (part.trim() === '' ? Number.NaN : Number(part)))
  if (numbers.length !== 4 || !numbers.every(Number.isInteger)) {
    throw misuse(flag, 'x,y,w,h in whole plate pixels', text)
  }
  const [x, y, w, h] = numbers
  return { x, y, w, h }
}

/**
 * A folder to write to: an empty name, such as an unset variable's, would mean the working directory, and a ~ that no shell
 * has replaced a folder of that name, which somebody might remove as what it looks like.
 *
 * @throws MISUSE
 */
export function outFolder(text: string): string {
  if (text.trim() === '') throw misuse('--out', 'the name of a folder', text)
  if (/^~([/\\]|$)/.test(text))
    throw misuse(
      '--out',
      'the name of a folder, and within quotes and after = no shell puts yours in the place of ~',
      text,
    )
  return text
}

/** @throws MISUSE */
export function wholeNumber(flag: string, wanted = 'a whole number'): (text: string) => number {
  return (text) => {
    const value = Number(text)
    if (text.trim() === '' || !Number.isInteger(value)) throw misuse(flag, wanted, text)
    return value
  }
}

export function collect(value: string, before: readonly string[] = []): string[] {
  return [...before, value]
}

/** @throws MISUSE */
export function number(flag: string): (text: string) => number {
  return (text) => {
    const value = Number(text)
    if (text.trim() === '' || !Number.isFinite(value)) throw misuse(flag, 'a number', text)
    return value
  }
}

/** `dx,dy` in pixels. @throws MISUSE */
export function parseOffset(text: string, flag = '--offset'): { dx: number; dy: number } {
  const parts = text.split(',')
  const [dx, dy] = parts.map((part) => (part.trim() === '' ? Number.NaN : Number(part)))
  if (parts.length !== 2 || !Number.isFinite(dx) || !Number.isFinite(dy)) {
    throw misuse(flag, 'dx,dy in pixels', text)
  }
  return { dx, dy }
}

/** `in,out` in frames. @throws MISUSE */
export function parseFade(text: string): { in: number; out: number } {
  const parts = text.split(',')
  const [start, end] = parts.map((part) => (part.trim() === '' ? Number.NaN : Number(part)))
  if (parts.length !== 2 || !Number.isInteger(start) || !Number.isInteger(end) || Math.min(start, end) < 0)
    throw misuse('--fade', 'in,out in whole frames, 0 or more', text)
  return { in: start, out: end }
}
