// One transfer function per encoding: code value (0 to 1 across the full integer range) to linear light and back.
// Linear light is scene reflectance with mid grey at 0.18 for the camera curves, and 1 = reference white elsewhere.
import type { Encoding } from './encoding.js'

/** A transfer function and its inverse. Both are defined for every finite number, below 0 and above 1 too. */
export interface Curve {
  /** Code value, 0 to 1, to linear light. */
  readonly decode: (code: number) => number
  /** Linear light to code value. */
  readonly encode: (linear: number) => number
  /** The document that defines the curve. */
  readonly source: string
}

const identity = (value: number): number => value

const linear: Curve = { decode: identity, encode: identity, source: 'stored values are linear light' }

const srgb: Curve = {
  decode: (v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4),
  encode: (l) => (l <= 0.0031308 ? l * 12.92 : 1.055 * l ** (1 / 2.4) - 0.055),
  source: 'IEC 61966-2-1:1999',
}

const rec709: Curve = {
  decode: (v) => (v < 0.081 ? v / 4.5 : ((v + 0.099) / 1.099) ** (1 / 0.45)),
  encode: (l) => (l < 0.018 ? l * 4.5 : 1.099 * l ** 0.45 - 0.099),
  source: 'ITU-R BT.709-6, item 1.2 (camera curve, inverted)',
}

// 10-bit printing density: 0.002 density per code value, film gamma 0.6; 685 is 90 % white, 95 the film base.
// Light at the film base is subtracted, so that 95 decodes to 0 and 685 to 1.
const CINEON_WHITE = 685
const CINEON_BLACK = 95
const DENSITY_PER_CODE = 0.002
const NEGATIVE_GAMMA = 0.6
const CODES_PER_DECADE = NEGATIVE_GAMMA / DENSITY_PER_CODE
const filmLight = (code10: number): number => 10 ** ((code10 - CINEON_WHITE) / CODES_PER_DECADE)
const FILM_BASE = filmLight(CINEON_BLACK)
// A code value below 0 cannot be scanned; the curve goes on as its tangent there so that any light can be encoded.
const FILM_FLOOR = filmLight(0)
const FILM_FLOOR_SLOPE = (FILM_FLOOR * Math.LN10) / CODES_PER_DECADE

const cineon: Curve = {
  decode: (v) => {
    const light = v >= 0 ? filmLight(v * 1023) : FILM_FLOOR + v * 1023 * FILM_FLOOR_SLOPE
    return (light - FILM_BASE) / (1 - FILM_BASE)
  },
  encode: (l) => {
    const light = l * (1 - FILM_BASE) + FILM_BASE
    if (light < FILM_FLOOR) return (light - FILM_FLOOR) / FILM_FLOOR_SLOPE / 1023
    return (CINEON_WHITE + CODES_PER_DECADE * Math.log10(light)) / 1023
  },
  source: 'printing density of SMPTE ST 268-1; 95 and 685 of 1023 as black and white',
}

const acescct: Curve = {
  // the standard ends the curve at the largest half-float number
  decode: (v) =>
    v <= 0.155251141552511
      ? (v - 0.0729055341958355) / 10.5402377416545
      : Math.min(2 ** (v * 17.52 - 9.72), 65504),
  encode: (l) => (l <= 0.0078125 ? 10.5402377416545 * l + 0.0729055341958355 : (Math.log2(l) + 9.72) / 17.52),
  source: 'Academy S-2016-001, ACEScct',
}

// The camera curves. Their constants are written from memory of the makers' published documents; the tests compare
// them with an independent implementation, and each with the mid-grey code value its document states.

const logc3: Curve = {
  decode: (v) =>
    v > 5.367655 * 0.010591 + 0.092809
      ? (10 ** ((v - 0.385537) / 0.24719) - 0.052272) / 5.555556
      : (v - 0.092809) / 5.367655,
  encode: (l) =>
    l > 0.010591 ? 0.24719 * Math.log10(5.555556 * l + 0.052272) + 0.385537 : 5.367655 * l + 0.092809,
  source: 'ARRI, ALEXA Log C Curve, 2012, exposure index 800',
}

const LOGC4_A = (2 ** 18 - 16) / 117.45
const LOGC4_B = (1023 - 95) / 1023
const LOGC4_C = 95 / 1023
const LOGC4_S = (7 * Math.LN2 * 2 ** (7 - (14 * LOGC4_C) / LOGC4_B)) / (LOGC4_A * LOGC4_B)
const LOGC4_T = (2 ** (14 * (-LOGC4_C / LOGC4_B) + 6) - 64) / LOGC4_A

const logc4: Curve = {
  decode: (v) =>
    v >= 0 ? (2 ** (14 * ((v - LOGC4_C) / LOGC4_B) + 6) - 64) / LOGC4_A : v * LOGC4_S + LOGC4_T,
  encode: (l) =>
    l >= LOGC4_T ? ((Math.log2(LOGC4_A * l + 64) - 6) / 14) * LOGC4_B + LOGC4_C : (l - LOGC4_T) / LOGC4_S,
  source: 'ARRI LogC4 Logarithmic Color Space, 2022',
}

const SLOG3_CUT = 171.2102946929
const slog3: Curve = {
  decode: (v) =>
    v * 1023 >= SLOG3_CUT
      ? 10 ** ((v * 1023 - 420) / 261.5) * 0.19 - 0.01
      : ((v * 1023 - 95) * 0.01125) / (SLOG3_CUT - 95),
  encode: (l) =>
    (l >= 0.01125 ? 420 + Math.log10((l + 0.01) / 0.19) * 261.5 : (l * (SLOG3_CUT - 95)) / 0.01125 + 95) /
    1023,
  source: 'Sony, Technical Summary for S-Gamut3.Cine/S-Log3 and S-Gamut3/S-Log3',
}

// Canon counts scene light so that 18 % reflectance is 0.2; 0.9 brings it to reflectance.
const CANON_REFLECTANCE = 0.9

const clog2: Curve = {
  decode: (v) =>
    CANON_REFLECTANCE *
    (v < 0.092864125
      ? -(10 ** ((0.092864125 - v) / 0.24136077) - 1) / 87.09937546
      : (10 ** ((v - 0.092864125) / 0.24136077) - 1) / 87.09937546),
  encode: (l) => {
    const x = l / CANON_REFLECTANCE
    return x < 0
      ? 0.092864125 - 0.24136077 * Math.log10(1 - x * 87.09937546)
      : 0.24136077 * Math.log10(x * 87.09937546 + 1) + 0.092864125
  },
  source: 'Canon Log Gamma Curves, v1.2 (2020), Canon Log 2',
}

const clog3: Curve = {
  decode: (v) => {
    if (v < 0.097465473) {
      return (-CANON_REFLECTANCE * (10 ** ((0.12783901 - v) / 0.36726845) - 1)) / 14.98325
    }
    if (v <= 0.15277891) return (CANON_REFLECTANCE * (v - 0.12512219)) / 1.9754798
    return (CANON_REFLECTANCE * (10 ** ((v - 0.12240537) / 0.36726845) - 1)) / 14.98325
  },
  encode: (l) => {
    const x = l / CANON_REFLECTANCE
    if (x < -0.014) return 0.12783901 - 0.36726845 * Math.log10(1 - x * 14.98325)
    if (x <= 0.014) return 1.9754798 * x + 0.12512219
    return 0.36726845 * Math.log10(x * 14.98325 + 1) + 0.12240537
  },
  source: 'Canon Log Gamma Curves, v1.2 (2020), Canon Log 3',
}

const vlog: Curve = {
  decode: (v) => (v < 0.181 ? (v - 0.125) / 5.6 : 10 ** ((v - 0.598206) / 0.241514) - 0.00873),
  encode: (l) => (l < 0.01 ? 5.6 * l + 0.125 : 0.241514 * Math.log10(l + 0.00873) + 0.598206),
  source: 'Panasonic, V-Log/V-Gamut Reference Manual, 2014',
}

const flog2: Curve = {
  decode: (v) =>
    v >= 0.100686685370811
      ? (10 ** ((v - 0.384316) / 0.245281) - 0.064829) / 5.555556
      : (v - 0.092864) / 8.799461,
  encode: (l) =>
    l >= 0.000889 ? 0.245281 * Math.log10(5.555556 * l + 0.064829) + 0.384316 : 8.799461 * l + 0.092864,
  source: 'Fujifilm, F-Log2 Data Sheet',
}

const nlog: Curve = {
  decode: (v) => (v * 1023 < 452 ? ((v * 1023) / 650) ** 3 - 0.0075 : Math.exp((v * 1023 - 619) / 150)),
  encode: (l) => (l < 0.328 ? 650 * Math.cbrt(l + 0.0075) : 150 * Math.log(l) + 619) / 1023,
  source: 'Nikon, N-Log Specification Document, 2018',
}

const log3g10: Curve = {
  decode: (v) => (v < 0 ? v / 15.1927 - 0.01 : (10 ** (v / 0.224282) - 1) / 155.975327 - 0.01),
  encode: (l) => (l < -0.01 ? (l + 0.01) * 15.1927 : 0.224282 * Math.log10((l + 0.01) * 155.975327 + 1)),
  source: 'RED, White Paper on REDWideGamutRGB and Log3G10, 2017',
}

const FILM5_A = 0.08692876065491224
const FILM5_B = 0.005494072432257808
const FILM5_C = 0.5300133392291939
const FILM5_D = 8.283605932402494
const FILM5_E = 0.09246575342465753
const FILM5_CUT = 0.005

const film5: Curve = {
  decode: (v) =>
    v < FILM5_D * FILM5_CUT + FILM5_E ? (v - FILM5_E) / FILM5_D : Math.exp((v - FILM5_C) / FILM5_A) - FILM5_B,
  encode: (l) => (l < FILM5_CUT ? FILM5_D * l + FILM5_E : FILM5_A * Math.log(l + FILM5_B) + FILM5_C),
  source: 'Blackmagic Design, Generation 5 Color Science, 2021',
}

/** Every encoding's curve. */
export const CURVES: Readonly<Record<Encoding, Curve>> = {
  linear,
  srgb,
  rec709,
  cineon,
  acescct,
  logc3,
  logc4,
  slog3,
  clog2,
  clog3,
  vlog,
  flog2,
  nlog,
  log3g10,
  film5,
}
