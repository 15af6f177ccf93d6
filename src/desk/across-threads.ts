// Answers of another thread: an error loses its kind on the way between threads, so what went wrong comes as an answer, too.
import { type ExitCode, OffcutError } from '../errors.js'
import { Refused } from './refused.js'

interface Fault {
  readonly code: string
  readonly message: string
  readonly exitCode: ExitCode
  /** Of a Refused. */
  readonly status?: Refused['status']
}

export type Answer<T> =
  | { readonly value: T; readonly fault?: undefined }
  | { readonly value?: undefined; readonly fault: Fault }

/** There. */
export async function answering<T>(work: () => Promise<T>): Promise<Answer<T>> {
  try {
    return { value: await work() }
  } catch (error) {
    if (!(error instanceof OffcutError)) throw error
    const { code, message, exitCode } = error
    return {
      fault: { code, message, exitCode, ...(error instanceof Refused ? { status: error.status } : {}) },
    }
  }
}

/** Here. @throws what was thrown there */
export function answered<T>({ value, fault }: Answer<T>): T {
  if (fault === undefined) return value as T
  const { status, code, message, exitCode } = fault
  throw status === undefined ? new OffcutError(code, message, exitCode) : new Refused(status, code, message)
}
