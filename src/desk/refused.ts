// What went wrong as an answer: an HTTP status, and for people the library's one sentence.
import type { Context } from 'hono'
import type { ContentfulStatusCode } from 'hono/utils/http-status'
import type * as z from 'zod'
import { OffcutError, printable } from '../errors.js'
import { faultOf } from '../fault.js'

/** A request that the desk understands and does not follow. */
export class Refused extends OffcutError {
  constructor(
    readonly status: 400 | 404 | 409 | 413,
    code: string,
    message: string,
  ) {
    super(code, message, 2)
  }
}

export function notFound(message: string): Refused {
  return new Refused(404, 'NOT_FOUND', message)
}

/** What came in is checked at the border. @param what named in the sentence: `the body` @throws Refused 400 */
export function checked<T>(schema: z.ZodType<T>, value: unknown, what: string): T {
  const parsed = schema.safeParse(value)
  if (parsed.success) return parsed.data
  throw new Refused(400, 'MISUSE', `${what} has a fault: ${printable(faultOf(parsed.error, value))}`)
}

/** For a page: the sentence without the marks that turn options into flags. */
export function sentenceOf(error: unknown): { code: string; message: string } {
  if (error instanceof OffcutError)
    return { code: error.code, message: error.message.replace(/`([a-z][A-Za-z]*)`/g, '$1') }
  const text = error instanceof Error ? error.message : String(error)
  return { code: 'UNEXPECTED', message: `something went wrong that should not have: ${printable(text)}` }
}

export function failure(c: Context, error: unknown): Response {
  return c.json({ error: sentenceOf(error) }, statusOf(error))
}

function statusOf(error: unknown): ContentfulStatusCode {
  if (error instanceof Refused) return error.status
  if (!(error instanceof OffcutError)) return 500
  if (/_NOT_FOUND$|^FRAME_MISSING$/.test(error.code)) return 404
  return error.exitCode === 2 ? 400 : 500
}
