// Whether a match matrix has anything to show.
import type { Row } from './state.js'

/**
 * False once every pair is known and none of them could be compared, but for the target's own frames among each other: its
 * picture would be black, and its count of pairs not true.
 *
 * @param rows by target frame
 */
export function comparable(rows: readonly (readonly [target: number, row: Row])[]): boolean {
  const own = new Set(rows.map(([target]) => target))
  return rows.some(([, { donors, quality }]) =>
    donors.some(([plate, frame], i) =>
      plate === 0 && own.has(frame) ? quality[i] === undefined : quality[i] !== null,
    ),
  )
}
