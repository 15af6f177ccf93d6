// What the ratio of two pictures needs.
import type { Workspace } from './workspace.js'

/**
 * Three box blurs of 2 r + 1 pixels, in place: near enough a Gaussian, as each box has variance r (r + 1) / 3
 * (W. M. Wells, Efficient Synthesis of Gaussian Filters by Cascaded Uniform Filters, PAMI 1986). Edge pixels average what
 * there is of their window.
 */
export function blur(workspace: Workspace, data: Float32Array, width: number, radius: number): void {
  const height = data.length / width
  workspace.run((kernels, room) =>
    kernels.blur(
      room.change(data),
      room.space(data.byteLength),
      room.space(sumsLength(width, height)),
      width,
      height,
      radius,
    ),
  )
}

/** Two pictures of one surface, one channel of linear light each, and what is known of them. */
export interface RatioPair {
  readonly donor: Readonly<Float32Array>
  readonly reference: Readonly<Float32Array>
  /** 0 to 1 per pixel; 0 leaves it out. */
  readonly validity: Readonly<Float32Array>
  /** Variance of the donor's grain, linear light squared, per pixel. */
  readonly noise: Readonly<Float32Array>
}

/**
 * Multiplies into `out` the least-squares factor in a window, with a prior that the ratio is 1.
 *
 * @param prior  variance of the ratio's prior, over the noise and the window's pixels
 * @param least  smallest ratio
 * @param rounds so many times, each from what the one before left over
 */
export function refineRatio(
  workspace: Workspace,
  { donor, reference, validity, noise }: RatioPair,
  width: number,
  { radius, prior, least, rounds }: { radius: number; prior: number; least: number; rounds: number },
  out: Float32Array,
): void {
  const { byteLength } = out
  const height = out.length / width
  workspace.run((kernels, room) => {
    const [d, q, v, n] = [room.read(donor), room.read(reference), room.read(validity), room.read(noise)]
    const [a, b, other] = [room.space(byteLength), room.space(byteLength), room.space(byteLength)]
    const sums = room.space(sumsLength(width, height))
    const to = room.change(out)
    for (let round = 0; round < rounds; round++)
      kernels.refineRatio(d, q, v, n, to, a, b, other, sums, width, height, radius, prior, least)
  })
}

/** What a ratio is in one window and in the next wider one, log2. */
export interface Band {
  readonly fine: Readonly<Float32Array>
  readonly coarse: Readonly<Float32Array>
  /** Stops of the change: grain's share of a darker pixel grows. */
  readonly light: Readonly<Float32Array>
  /** Variance of grain in this band. */
  readonly grain: Readonly<Float32Array>
}

/**
 * Adds to `out` what `fine` has over `coarse`, as far as there is more of it than grain.
 *
 * @param radius of the blur in which the band's energy is looked at
 * @param times  the energy must be above so many times the grain's
 */
export function addBand(
  workspace: Workspace,
  { fine, coarse, light, grain }: Band,
  width: number,
  radius: number,
  times: number,
  out: Float32Array,
): void {
  const height = out.length / width
  workspace.run((kernels, room) =>
    kernels.addBand(
      room.read(fine),
      room.read(coarse),
      room.read(light),
      room.read(grain),
      room.change(out),
      room.space(out.byteLength),
      room.space(out.byteLength),
      room.space(sumsLength(width, height)),
      width,
      height,
      radius,
      times,
    ),
  )
}

/** log2 of normal positive samples, in place. */
export function logs(workspace: Workspace, data: Float32Array): void {
  workspace.run((kernels, room) => kernels.logs(room.change(data), data.length))
}

/** 2 to the power of samples, in place. */
export function powers(workspace: Workspace, data: Float32Array): void {
  workspace.run((kernels, room) => kernels.powers(room.change(data), data.length))
}

/** Bytes of the running sums of a blur: float64 along the longer side, and four more. */
function sumsLength(width: number, height: number): number {
  return 8 * (Math.max(width, height) + 4)
}
