// The program that started a command and listens to it: a channel between the two processes.
import type { Told } from '../search/told.js'

/** This process, as far as it has a channel to the one that started it. */
export interface Channel {
  readonly connected?: boolean
  send?(message: unknown, after: (error: Error | null) => void): boolean
  once(event: 'disconnect', listener: () => void): unknown
  off(event: 'disconnect', listener: () => void): unknown
}

export interface Parent {
  tell(told: Told): void
  /** Lets go of the channel, so that the process can end, when all has been handed over. */
  close(): Promise<void>
}

/**
 * @param onGone called when the other side of the channel is closed
 * @returns null where nobody listens
 */
export function parentOf(channel: Channel, onGone: () => void): Parent | null {
  if (channel.send === undefined || channel.connected !== true) return null
  let handedOver: Promise<void> = Promise.resolve()
  channel.once('disconnect', onGone)
  return {
    tell: (told) => {
      if (channel.connected !== true) return
      // Who has gone needs no message; that ends the run by itself.
      handedOver = new Promise((resolve) => channel.send!(told, () => resolve()))
    },
    close: async () => {
      if (channel.connected === true) await handedOver
      channel.off('disconnect', onGone)
    },
  }
}
