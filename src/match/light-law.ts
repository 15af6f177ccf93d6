// What a change of light can do to the channels: a shadow takes light from every one of them, a gleam adds to every one,
// whatever its colour is, for light has no negative part. Paint, cloth and bodywork obey no such law.

/** So much the other way is left to grain, to coarsely coded colour and to light that drifts, stops. */
const AGAINST_STOPS = 0.15
/**
 * No shadow takes more, no gleam adds more than this, in stops. Open shade keeps the sky's share of the light, about a
 * tenth of it at least, and a mirror that throws the sun into shade brings back what the shade had lost. Common practice,
 * no source.
 */
export const MAX_LIGHT_STOPS = 3.3

export type Sign = 'darker' | 'brighter'

/**
 * True where a change of this sign can't have made `now` of `before`.
 *
 * @param now, before R, G and B of linear light from index `at` on; a channel without light before says nothing
 */
export function isAgainstLight(
  now: Readonly<Float64Array>,
  before: Readonly<Float64Array>,
  at: number,
  sign: Sign,
): boolean {
  for (let c = at; c < at + 3; c++) {
    if (!(before[c] > 0)) continue
    const stops = Math.log2(Math.max(now[c], 0) / before[c])
    if ((sign === 'darker' ? stops : -stops) > AGAINST_STOPS || Math.abs(stops) > MAX_LIGHT_STOPS) return true
  }
  return false
}
