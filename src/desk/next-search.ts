// What would be searched if it were started now: the command, or what is missing for it; and the files of its masks.
import { join } from 'node:path'
import { OffcutError } from '../errors.js'
import { parseFrames, printFrames } from '../footage/frames.js'
import type { Plate } from '../footage/plate.js'
import { findArguments, type MaskFiles } from './command-line.js'
import { sentenceOf } from './refused.js'
import { isDrawn, maskSvg, moves } from './shapes.js'
import type { ShotPlates } from './shot-plates.js'
import type { Area, ShotState } from './shot-state.js'

/** The areas of a search, as their files are called. */
const AREAS = [
  ['region', 'region'],
  ['avoid', 'avoid'],
  ['lookIn', 'look-in'],
] as const

export interface NextSearch {
  readonly args: readonly string[]
  /** Absolute path to what makes its text: what has to be written before it runs. */
  readonly masks: ReadonlyMap<string, () => string>
}

/** @param number of the search, 1 and on  @param folder of the shot, absolute */
export function nextSearch(
  state: ShotState,
  { plates, named }: Pick<ShotPlates, 'plates' | 'named'>,
  folder: string,
  number: number,
): NextSearch {
  const { asked, view } = state
  const plate = plates[0]!
  const paths: Partial<Record<keyof MaskFiles, string>> = {}
  const masks = new Map<string, () => string>()
  for (const [area, name] of AREAS) {
    if (!isDrawn(asked[area]) || (area === 'lookIn' && asked.aim === 'hide')) continue
    const frames = area === 'avoid' ? plate.frames : targetsOf(state, plate)
    const { path, files } = filesOf(
      asked[area],
      state,
      plate,
      frames,
      join(folder, `${name}-${number}`),
      name,
    )
    paths[area] = path
    for (const [file, text] of files) masks.set(file, text)
  }
  const { region = '', avoid = null, lookIn = null } = paths
  const out = join(folder, `search-${number}`)
  return { args: findArguments(named, asked, view.look, { region, avoid, lookIn }, out), masks }
}

/** Why no search can be started yet, for people; null: it can. */
export function missingIn({ asked }: ShotState, plate: Plate): string | null {
  if (!isDrawn(asked.region)) return 'draw the region, or name the file of its mask'
  if (asked.frames.trim() === '') return 'choose the target frames'
  try {
    const there = new Set(plate.frames)
    const absent = parseFrames(asked.frames).filter((f) => !there.has(f))
    if (absent.length > 0) return `the plate has no frame ${printFrames(absent)}`
  } catch (cause) {
    if (cause instanceof OffcutError) return sentenceOf(cause).message
    throw cause
  }
  return null
}

function targetsOf({ asked }: ShotState, plate: Plate): readonly number[] {
  const there = new Set(plate.frames)
  return parseFrames(asked.frames).filter((f) => there.has(f))
}

/** An area's file, or a folder of files where its shapes lie elsewhere on other frames. */
function filesOf(
  { file, shapes }: Area,
  { asked, view }: ShotState,
  { width, height }: Plate,
  frames: readonly number[],
  at: string,
  name: string,
): { path: string; files: [path: string, text: () => string][] } {
  if (file !== null) return { path: file, files: [] }
  const text = (frame: number) => () => maskSvg(shapes, frame, width, height)
  // A mask that was drawn on one frame and rides along is that frame's.
  if (asked.maskAt !== null || !moves(shapes))
    return { path: `${at}.svg`, files: [[`${at}.svg`, text(asked.maskAt ?? view.frame)]] }
  return { path: at, files: frames.map((f) => [join(at, `${name}.${padded(f)}.svg`), text(f)]) }
}

/** Of frames below 0 the minus comes first, as renderers write it. */
function padded(frame: number): string {
  return `${frame < 0 ? '-' : ''}${String(Math.abs(frame)).padStart(4, '0')}`
}
