// Light as code values of a screen.
import type { Workspace } from './workspace.js'

/** Steps of a table from black to white: fine enough that the steep dark end moves by 0.05 of an 8-bit code per step. */
export const STEPS = 65535
/** Samples that are looked up in one call. */
const AT_ONCE = 1 << 17

/**
 * What a table says of samples of light: of the step that each lies next to, held at the table's ends; no number is black.
 *
 * @param scale steps per unit of light
 * @param table STEPS + 1 codes
 */
export function displayCodes(
  workspace: Workspace,
  light: Readonly<Float32Array>,
  scale: number,
  table: Readonly<Uint8Array>,
  out: Uint8Array,
): void {
  workspace.within((scratch) => {
    const codes = scratch.bytes(table.length)
    codes.set(table)
    for (let from = 0; from < light.length; from += AT_ONCE)
      workspace.run((kernels, room) => {
        const some = light.subarray(from, from + AT_ONCE)
        const shown = room.write(out.subarray(from, from + AT_ONCE))
        kernels.displayCodes(room.read(some), shown, some.length, scale, codes.byteOffset)
      })
  })
}

/**
 * What two pictures' codes differ by, `gain` times, round `zero`, held between 0 and 255.
 *
 * @param gain a whole number up to 64 either way
 * @param out  of the length of both
 */
export function differenceCodes(
  workspace: Workspace,
  one: Readonly<Uint8Array>,
  two: Readonly<Uint8Array>,
  { zero, gain }: { readonly zero: number; readonly gain: number },
  out: Uint8Array,
): void {
  workspace.run((kernels, room) =>
    kernels.differenceCodes(room.read(one), room.read(two), zero, gain, room.write(out), out.length),
  )
}
