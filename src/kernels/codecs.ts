// The loops that decode chunks of samples and what is made of them at once.
import { Workspace } from './workspace.js'

let workspace: Workspace | undefined

/** One for all chunks that a thread decodes: each is done when its call ends. */
export function codecs(): Workspace {
  workspace ??= new Workspace()
  return workspace
}

/** 16-bit words where the bytes lie. */
export function wordsIn({ buffer, byteOffset, byteLength }: Uint8Array): Uint16Array {
  return new Uint16Array(buffer, byteOffset, byteLength >> 1)
}
