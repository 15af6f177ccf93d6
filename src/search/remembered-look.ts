// The look that a result remembers, where it still is.
import type { Look } from '../colour/look/look.js'
import { readLook } from '../colour/look/read-look.js'
import { OffcutError, printable } from '../errors.js'
import type { Change } from './fingerprints.js'
import type { Result } from './result.js'

/** Either the look that the result's pictures are seen through, or that it is lost; neither where there was none. */
export async function rememberedLook({
  look,
}: Result): Promise<{ readonly look?: Look; readonly lost?: Change }> {
  if (look === undefined) return {}
  try {
    return { look: await readLook(look) }
  } catch (cause) {
    if (!(cause instanceof OffcutError)) throw cause
    const problem = cause.code === 'LOOK_NOT_FOUND' ? 'has gone' : "can't be read any more"
    const message = `the look ${printable(look)} ${problem}: pictures are shown without it until it is put back or another is named`
    return { lost: { what: 'look', message } }
  }
}
