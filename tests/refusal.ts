// What an error must have: its code, its exit code, and a message that names the file and both values.
import { expect } from 'vitest'
import { OffcutError } from '../src/errors.js'

export interface Refusal {
  readonly code: string
  readonly exitCode: 1 | 2
  /** Pieces that the message must hold: the file, both values, the remedy. */
  readonly says: readonly string[]
}

/** @returns the error, for further checks */
export async function expectRefusal(
  act: () => unknown,
  { code, exitCode, says }: Refusal,
): Promise<OffcutError> {
  let error: unknown = 'nothing was thrown'
  try {
    await act()
  } catch (thrown) {
    error = thrown
  }
  expect(error).toBeInstanceOf(OffcutError)
  const refused = error as OffcutError
  expect({ code: refused.code, exitCode: refused.exitCode }, refused.message).toEqual({ code, exitCode })
  for (const piece of says) expect(refused.message).toContain(piece)
  return refused
}
