// File names into numbered sequences, and patterns (`plate.%04d.exr`, `plate.####.exr`) into the names they mean.
// Nothing here opens a file: names in, names out.

/** Files whose names differ in one number only. */
export interface Sequence {
  /** `quay.####.png`: as many # as the padding, a single # where the padding is mixed; the file name of a still. */
  readonly name: string
  /** Frame number to file name, ascending. */
  readonly files: ReadonlyMap<number, string>
  /** What stands before and behind the number in every name; null for a picture without a number. */
  readonly around: { readonly prefix: string; readonly suffix: string } | null
  /** Two file names with the same number (`q.1.png`, `q.0001.png`), where there are such. */
  readonly clash: readonly [string, string] | null
}

interface NumberedName {
  readonly prefix: string
  readonly digits: string
  readonly number: number
  readonly suffix: string
}

// longer digit runs are dates and checksums, and 10^15 is where integers stop being exact in every tool
const MAX_DIGITS = 15
const SEPARATORS_LAST = /[._ -]+$/
// common practice
const MIN_PADDING = 4
// A minus belongs to the number at the start of the name or after a separator; in `plate-0012` it is a hyphen.
const NUMBER = /(?:(?<=^|[._ -])-)?\d+/g

/** Every way to take one number of a file name (without its ending) as the frame number, the usual one first. */
function readings(fileName: string): NumberedName[] {
  const dot = fileName.lastIndexOf('.')
  const stem = dot > 0 ? fileName.slice(0, dot) : fileName
  const found: NumberedName[] = []
  for (const match of stem.matchAll(NUMBER)) {
    const digits = match[0]
    if (digits.length > MAX_DIGITS) continue
    const end = match.index + digits.length
    // + 0 turns the -0 of `-0000` into 0
    const number = Number(digits) + 0
    found.push({ prefix: fileName.slice(0, match.index), digits, number, suffix: fileName.slice(end) })
  }
  return found.reverse()
}

/**
 * Groups file names into sequences, by first name.
 *
 * The last number of a name is the frame number, unless no other file shares the name round it and an earlier number
 * does better: `quay_1001_v2.png, quay_1002_v2.png` count from 1001. Names without a number are left out; see stillOf.
 */
export function sequencesIn(fileNames: readonly string[]): Sequence[] {
  const sorted = [...new Set(fileNames)].sort()
  const all = sorted.map(readings)
  const shared = new Map<string, number>()
  for (const name of all) {
    for (const reading of name) {
      const key = templateOf(reading)
      shared.set(key, (shared.get(key) ?? 0) + 1)
    }
  }
  const groups = new Map<string, [NumberedName, string][]>()
  for (const [i, name] of all.entries()) {
    if (name.length === 0) continue
    const reading = name.find((r) => shared.get(templateOf(r))! > 1) ?? name[0]!
    const key = templateOf(reading)
    const group = groups.get(key)
    if (group) group.push([reading, sorted[i]!])
    else groups.set(key, [[reading, sorted[i]!]])
  }
  return [...groups.values()].map(sequenceOf)
}

/** A picture without a number in its name, as the one frame 1 of a plate. */
export function stillOf(fileName: string): Sequence {
  return { name: fileName, files: new Map([[1, fileName]]), around: null, clash: null }
}

function templateOf({ prefix, suffix }: NumberedName): string {
  // no file name holds a slash or a NUL, so nothing else can make the same key
  return `${prefix}\0${suffix}`
}

function sequenceOf(group: readonly [NumberedName, string][]): Sequence {
  const files = new Map<number, string>()
  let clash: [string, string] | null = null
  for (const [{ number }, fileName] of [...group].sort((a, b) => a[0].number - b[0].number)) {
    const other = files.get(number)
    if (other !== undefined) clash ??= [other, fileName]
    else files.set(number, fileName)
  }
  const { prefix, suffix } = group[0]![0]
  const name = prefix + '#'.repeat(paddingOf(group.map(([r]) => r.digits))) + suffix
  return { name, files, around: { prefix, suffix }, clash }
}

/**
 * What a sequence is called without its frame number and ending: `quay_v2` for `quay_####_v2.png`. Empty where its
 * files have nothing but the number.
 */
export function stemOf({ name, around }: Sequence): string {
  if (around === null) return withoutEnding(name)
  return (around.prefix.replace(SEPARATORS_LAST, '') + withoutEnding(around.suffix)).replace(/^[._ -]+/, '')
}

/** A frame's number as its file is named by it: `0007`; of a picture without a number as `numbered` writes it. */
export function numberIn({ files, around }: Sequence, frame: number): string {
  const file = files.get(frame)
  return file === undefined || around === null
    ? numbered(frame)
    : file.slice(around.prefix.length, file.length - around.suffix.length)
}

/** A frame number where no file name has it, of as many digits as the last one has, four at least. */
export function numbered(frame: number, last: number = frame): string {
  return String(frame).padStart(Math.max(MIN_PADDING, String(last).length), '0')
}

function withoutEnding(fileName: string): string {
  return fileName.replace(/\.[^.]*$/, '')
}

/** The number of digits that all numbers are padded to, or 1 where they disagree. */
function paddingOf(numbers: readonly string[]): number {
  const positive = numbers.filter((n) => !n.startsWith('-'))
  const lengths = (positive.length > 0 ? positive : numbers.map((n) => n.slice(1))).map((n) => n.length)
  const padding = Math.min(...lengths)
  return numbers.every((n) => isPadded(n, padding)) ? padding : 1
}

/** Whether a number is written as `%0<padding>d` or that many # would write it; 1 stands for any padding. */
function isPadded(digits: string, padding: number): boolean {
  if (padding === 1) return true
  const bare = digits.replace('-', '')
  // printf counts the minus as a digit of the padding, most renderers do not: both are read
  if (digits.startsWith('-') && bare.length === padding - 1) return true
  return bare.length === padding || (bare.length > padding && !bare.startsWith('0'))
}

const PLACEHOLDER = /%(?:0?(\d+))?d|#+/

/** Whether a file name holds a placeholder for the frame number. */
export function isPattern(fileName: string): boolean {
  return PLACEHOLDER.test(fileName)
}

/**
 * The sequence that a pattern means among the file names of its folder, or null where none matches.
 *
 * `%04d` and `####` stand for numbers padded to four digits, longer where the number is; `%d` and `#` for any padding.
 */
export function matchPattern(pattern: string, fileNames: readonly string[]): Sequence | null {
  const match = PLACEHOLDER.exec(pattern)
  if (match === null) return null
  const padding = match[0].startsWith('#') ? match[0].length : Number(match[1] ?? 1)
  const prefix = pattern.slice(0, match.index)
  const suffix = pattern.slice(match.index + match[0].length)
  const group: [NumberedName, string][] = []
  for (const fileName of fileNames) {
    if (!fileName.startsWith(prefix) || !fileName.endsWith(suffix)) continue
    const digits = fileName.slice(prefix.length, fileName.length - suffix.length)
    if (!/^-?\d{1,15}$/.test(digits) || !isPadded(digits, Math.max(1, padding))) continue
    group.push([{ prefix, digits, number: Number(digits) + 0, suffix }, fileName])
  }
  return group.length > 0 ? sequenceOf(group) : null
}

/** Runs of missing numbers between the first and the last of ascending frame numbers. */
export function gapsIn(frames: readonly number[]): { first: number; last: number }[] {
  const gaps: { first: number; last: number }[] = []
  for (let i = 1; i < frames.length; i++) {
    if (frames[i]! > frames[i - 1]! + 1) gaps.push({ first: frames[i - 1]! + 1, last: frames[i]! - 1 })
  }
  return gaps
}
