// The plates of a shot, opened: the target's first, then the donors'.
import { realpath } from 'node:fs/promises'
import { basename } from 'node:path'
import { OffcutError } from '../errors.js'
import { locatePlate } from '../footage/locate.js'
import { isPattern } from '../footage/naming.js'
import { openPlate, type Plate } from '../footage/plate.js'
import { nearestReal, refuseWithin } from '../footage/write/in-footage.js'
import type { PlateAbout } from './messages.js'
import type { ShotState } from './shot-state.js'

export interface ShotPlates {
  /** What it was opened by: another wish means other plates. */
  readonly wish: string
  readonly plates: readonly Plate[]
  /** The target's as a command names it: by its folder, where that alone is the same plate. */
  readonly named: string
  /** Why donors could not be opened; they are left out. */
  readonly faults: readonly string[]
}

/** The same for states whose plates are the same. */
export function wishOf({ plate, asked: { donors, encoding, layer } }: ShotState): string {
  return JSON.stringify([plate, donors, encoding, layer])
}

/**
 * @param strict a donor that can't be opened is an error, as of a change that brings it
 * @throws as openPlate, of the target
 */
export async function openPlates(
  state: ShotState,
  { strict }: { readonly strict: boolean },
): Promise<ShotPlates> {
  const { donors, encoding, layer } = state.asked
  const open = (spec: string) => openPlate(spec, { encoding, ...(layer === null ? {} : { layer }) })
  const plates = [await open(state.plate)]
  const faults: string[] = []
  for (const donor of donors) {
    try {
      plates.push(await open(donor))
    } catch (cause) {
      if (strict || !(cause instanceof OffcutError)) throw cause
      faults.push(cause.message)
    }
  }
  return { wish: wishOf(state), plates, named: await namedShort(plates[0]!), faults }
}

async function namedShort({ spec, folder }: Plate): Promise<string> {
  if (!isPattern(basename(spec))) return spec
  const alone = await locatePlate(folder).catch((cause) => {
    if (cause instanceof OffcutError) return null
    throw cause
  })
  return alone?.spec === spec ? folder : spec
}

export function aboutPlate({
  spec,
  name,
  frames,
  gaps,
  width,
  height,
  pixelAspect,
  format,
  bitDepth,
  encoding,
  encodingWhy,
  info,
}: Plate): PlateAbout {
  const framesPerSecond = info.framesPerSecond ?? null
  return {
    ...{ spec, name, frames, gaps, width, height, pixelAspect, format, bitDepth, encoding, encodingWhy },
    framesPerSecond,
  }
}

/** Nothing is ever written into a plate's folder. @throws OUTPUT_IN_FOOTAGE */
export async function refuseInFootage(out: string, { folder }: Pick<Plate, 'folder'>): Promise<void> {
  const [real, held] = await Promise.all([nearestReal(out), realpath(folder)])
  refuseWithin(out, real, held, 'start the desk with another --out')
}
