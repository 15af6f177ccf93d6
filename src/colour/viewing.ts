// What a screen shows of linear light: sRGB, or what a show's look makes of the plate. For looking at only: nothing that is
// delivered goes through here.
import { codecs } from '../kernels/codecs.js'
import { displayCodes, STEPS } from '../kernels/display.js'
import type { Workspace } from '../kernels/workspace.js'
import type { Frame } from '../raster/frame.js'
import { bitsToHalf, HALF_MAX, HALF_VALUES } from '../raster/half.js'
import type { Encoding } from './encoding.js'
import { applyLook } from './look/apply-look.js'
import { domainOf, type Look } from './look/look.js'
import { type Matrix, toBt709 } from './primaries.js'
import { encode } from './transfer.js'

/** How the pictures of a plate are looked at. */
export interface ViewingTransform {
  /** The look that they are seen through; null where they are shown as sRGB. */
  readonly look: Look | null
  /** How much brighter than the plate its previews are best shown, stops, told by one of its pictures; 0 is as shot. */
  exposureOf(picture: Frame): number
  /**
   * 8-bit display samples of a linear-light picture, same layout; what lies beyond the display is held at its end, and
   * what is no number is shown as black is.
   *
   * @param exposureStops how much brighter than the plate it is shown; 0 is as shot
   * @param gamma         what is shown, 0 to 1, is raised to one over it; 1 is as shot
   * @param workspace     in which the picture may lie; default: that of this thread's codecs
   */
  toDisplay(picture: Frame, exposureStops?: number, gamma?: number, workspace?: Workspace): Uint8Array
}

export interface Viewed {
  /** How the plate's values are stored. */
  readonly encoding: Encoding
  /** xy of its red, green, blue and white, where its files say; else those of BT.709. */
  readonly chromaticities?: readonly number[]
  readonly look?: Look
}

/**
 * The viewing transform of a plate. Without a look its light is counted in the primaries of BT.709 and shown as sRGB. With
 * one its own values go into the table, in its own primaries and as its encoding has them, and what comes out is shown as it
 * is, as shot. A cube does not say what it expects, so of a linear plate this is the rule: a table that reaches beyond 1 gets
 * the light itself, any other gets ACEScct, which holds a whole scene between 0 and 1.
 */
export function viewingOf({ encoding, chromaticities, look }: Viewed): ViewingTransform {
  if (look !== undefined) {
    const codes = codesOfHalves(inputOf(look, encoding))
    return {
      look,
      // Where highlights go, and how dark a scene is, the look says.
      exposureOf: () => 0,
      toDisplay: (picture, exposureStops = 0, gamma = 1) =>
        throughLook(look, codes, picture, exposureStops, gamma),
    }
  }
  const matrix = chromaticities === undefined ? null : toBt709(chromaticities)
  return {
    look: null,
    exposureOf: previewExposure,
    toDisplay: ({ data }, exposureStops = 0, gamma = 1, workspace = codecs()) =>
      toDisplay(workspace, matrix === null ? data : converted(data, matrix), exposureStops, gamma),
  }
}

/** The encoding in which a plate goes into a look. */
export function inputOf(look: Look, encoding: Encoding): Encoding {
  if (encoding !== 'linear') return encoding
  return domainOf(look).max.some((v) => v > 1) ? 'linear' : 'acescct'
}

/** The last one: pictures that are looked at one after the other are shown alike. */
let table: { readonly gamma: number; readonly codes: Uint8Array } | undefined

function tableOf(gamma: number): Uint8Array {
  if (table?.gamma !== gamma) {
    const codes = new Uint8Array(STEPS + 1)
    const codeOf = (step: number) => Math.round(255 * encode(step / STEPS, 'srgb') ** (1 / gamma))
    for (let code = 1; code <= 255; code++)
      codes.fill(
        code,
        firstWhere((step) => codeOf(step) >= code),
      )
    table = { gamma, codes }
  }
  return table.codes
}

/** The first step from which on something holds, which it does at the last: a code is found by 16 powers, a table by so many a step. */
function firstWhere(holds: (step: number) => boolean): number {
  let low = 0
  let high = STEPS
  while (low < high) {
    const middle = (low + high) >> 1
    if (holds(middle)) high = middle
    else low = middle + 1
  }
  return low
}

/** sRGB of light in the primaries of BT.709. */
function toDisplay(
  workspace: Workspace,
  light: Readonly<Float32Array>,
  exposureStops: number,
  gamma: number,
): Uint8Array {
  const out = new Uint8Array(light.length)
  displayCodes(workspace, light, STEPS * 2 ** exposureStops, tableOf(gamma), out)
  return out
}

function converted(
  light: Readonly<Float32Array>,
  [rr, rg, rb, gr, gg, gb, br, bg, bb]: Matrix,
): Float32Array {
  const out = new Float32Array(light.length)
  for (let i = 0; i < light.length; i += 3) {
    const r = light[i]!
    const g = light[i + 1]!
    const b = light[i + 2]!
    out[i] = rr * r + rg * g + rb * b
    out[i + 1] = gr * r + gg * g + gb * b
    out[i + 2] = br * r + bg * g + bb * b
  }
  return out
}

/** Code values of all halves. To the nearest half light is off by 2 ** -12 at most, a thirtieth of an 8-bit step of a display curve. */
function codesOfHalves(encoding: Encoding): Float32Array {
  if (encoding === 'linear') return HALF_VALUES
  return HALF_VALUES.map((light) =>
    encode(Number.isFinite(light) ? light : Math.sign(light) * HALF_MAX, encoding),
  )
}

function throughLook(
  look: Look,
  codes: Float32Array,
  { data: light }: Frame,
  exposureStops: number,
  gamma: number,
): Uint8Array {
  const rgb = new Float32Array(light.length)
  const bits = new Uint32Array(rgb.buffer)
  const scale = 2 ** exposureStops
  for (let i = 0; i < light.length; i++) {
    rgb[i] = light[i]! * scale
    rgb[i] = codes[bitsToHalf(bits[i]!)]!
  }
  applyLook(look, rgb)
  const out = new Uint8ClampedArray(rgb.length)
  if (gamma === 1) for (let i = 0; i < rgb.length; i++) out[i] = 255 * rgb[i]!
  else for (let i = 0; i < rgb.length; i++) out[i] = 255 * Math.max(0, rgb[i]!) ** (1 / gamma)
  return new Uint8Array(out.buffer)
}

/** Where the brightest trusted part of a picture ends: this share of samples lies below it. */
const HIGHLIGHT_SHARE = 0.995
/** A plate whose highlights lie below this is lifted, as a seam in near-black can't be seen in 8 bits. */
const DARK_HIGHLIGHT = 0.1
/** Exposure is chosen in thirds of a stop, as on a lens. */
const STEPS_PER_STOP = 3

/** Among so many samples, ascending. */
function placeOfHighlight(count: number): number {
  return Math.floor((count - 1) * HIGHLIGHT_SHARE)
}

/** Most pictures' highlights lie where a screen shows them, which is told without sorting. */
function isWellLit(data: Readonly<Float32Array>): boolean {
  let [all, shown, dark] = [0, 0, 0]
  for (let from = 0; from < data.length; from += AT_ONCE) {
    const some = countLight(data.subarray(from, from + AT_ONCE))
    all += some.all
    shown += some.shown
    dark += some.dark
  }
  const place = placeOfHighlight(all)
  return shown > place && dark <= place
}

/** A loop that is called often is compiled soon, and once. */
const AT_ONCE = 4096

/** How many samples are finite, and of these how many a screen can show and how many are dark. */
function countLight(data: Readonly<Float32Array>): Record<'all' | 'shown' | 'dark', number> {
  let [all, shown, dark] = [0, 0, 0]
  for (let i = 0; i < data.length; i++) {
    const v = data[i]!
    // Of infinity and of NaN nothing is left over.
    if (v - v !== 0) continue
    all++
    if (v <= 1) shown++
    if (v < DARK_HIGHLIGHT) dark++
  }
  return { all, shown, dark }
}

/**
 * The exposure at which previews show a picture whole: 0 unless its highlights lie above what a screen can show or
 * so low that nothing can be judged. A choice of ours, no source.
 */
function previewExposure({ data }: Frame): number {
  if (isWellLit(data)) return 0
  // Where there is no picture nothing is bright.
  const sorted = data.filter(Number.isFinite).sort()
  const highlight = sorted[placeOfHighlight(sorted.length)]!
  if (!(highlight > 0)) return 0
  if (highlight > 1) return Math.floor(-Math.log2(highlight) * STEPS_PER_STOP) / STEPS_PER_STOP
  if (highlight < DARK_HIGHLIGHT) {
    return Math.floor(Math.log2(DARK_HIGHLIGHT / highlight) * STEPS_PER_STOP) / STEPS_PER_STOP
  }
  return 0
}
