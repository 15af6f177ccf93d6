// Pictures of plates for the page: proxies are decoded once and kept as far as there is room, and JPEGs made from them as
// they are asked for, the one asked for last first.
import { stat } from 'node:fs/promises'
import { MessageChannel } from 'node:worker_threads'
import { OffcutError } from '../../errors.js'
import { checkRect, type Plate } from '../../footage/plate.js'
import type { Rect } from '../../raster/rect.js'
import { RecentlyUsed } from '../../recently-used.js'
import { proxyFactor } from '../proxy-size.js'
import type { Lane } from './lanes.js'
import type { ProxyPicture } from './proxy.js'
import { Shared } from './shared.js'
import type { Shown } from './shown.js'
import type { SmallLight } from './small-light.js'
import type { PictureTask, PlateKey, ReadFrame } from './tasks.js'
import { Threads } from './threads.js'

/** Room for proxies, and for JPEGs of them. */
const PROXY_BYTES = 512 * 2 ** 20
const JPEG_BYTES = 64 * 2 ** 20
/** Frames decoded ahead of the one that was asked for last, in the direction in which it was come by. */
const AHEAD = 6
/** Frames of a movie that are decoded in one pass. */
const PASS = 12

export interface ReadProxy {
  readonly proxy: ProxyPicture
  readonly small: SmallLight
  /** The same for equal pictures only. */
  readonly print: string
}

/** What of a plate is asked for, and how it is to be shown. */
export interface Asked {
  readonly plate: Plate
  readonly frame: number
  /** Plate pixels; null: all of it. */
  readonly rect: Rect | null
  readonly shown: Shown
}

export interface MadePicture {
  readonly bytes: Uint8Array
  /** Pixels of the plate that it shows: of a proxy whole squares, which may be less than the frame or more than was asked for. */
  readonly rect: Rect
}

export class Pictures {
  readonly threads = new Threads()
  readonly #proxies = new RecentlyUsed<ReadProxy>(PROXY_BYTES)
  readonly #jpegs = new RecentlyUsed<MadePicture>(JPEG_BYTES)
  /** What is being read, by frame. */
  readonly #reading = new Map<string, Promise<ReadProxy>>()
  /** JPEGs that are being made. */
  readonly #making = new Shared<MadePicture>()
  #ahead = new AbortController()
  #last: { plate: string; frame: number } | undefined

  /** A picture that somebody looks at, whose neighbours are read next. @throws as jpeg */
  async lookedAt(asked: Asked, signal: AbortSignal): Promise<MadePicture> {
    const { plate, frame } = asked
    const direction = this.#directionTo(plate, frame)
    const made = await this.jpeg(asked, 'now', signal, direction)
    this.#readAhead(plate, frame, direction)
    return made
  }

  /**
   * A whole frame, or a rectangle of it, as JPEG. Who asks for what is being made already shares it.
   *
   * @param lane      `now`: somebody looks at it, or is about to; `soon`: somebody may
   * @param signal    fires when nobody waits for it any more
   * @param direction in which frames are come by
   * @throws FRAME_MISSING, FRAME_UNREADABLE, RECT_OUTSIDE, LOOK_NOT_FOUND, LOOK_BAD, the abort reason
   */
  async jpeg(
    { plate, frame, rect, shown }: Asked,
    lane: 'now' | 'soon',
    signal: AbortSignal,
    direction: 1 | -1 = 1,
  ): Promise<MadePicture> {
    if (rect !== null) checkRect(plate, rect)
    const name = await nameOf(plate, frame)
    const lookAt = shown.look === null ? null : (await stat(shown.look).catch(() => null))?.mtimeMs
    const key = JSON.stringify([name, rect, shown, lookAt])
    const known = this.#jpegs.get(key)
    if (known !== undefined) return known
    // What somebody looks at does not wait in the lane of what somebody may.
    return this.#making.of(`${lane} ${key}`, signal, async (wanted) => {
      const made = await this.#make({ plate, frame, rect, shown }, name, lane, direction, wanted)
      this.#jpegs.set(key, made, made.bytes.length)
      return made
    })
  }

  async #make(
    { plate, frame, rect, shown }: Asked,
    name: string,
    lane: Lane,
    direction: 1 | -1,
    signal: AbortSignal,
  ): Promise<MadePicture> {
    const factor = proxyFactor(plate.width)
    const wide = rect?.w ?? plate.width
    const key = keyOf(plate)
    // Finer than the proxy has it.
    if (factor > 1 && wide / (shown.width ?? wide) < factor) {
      const whole = rect ?? { x: 0, y: 0, w: plate.width, h: plate.height }
      const task = { kind: 'rect', plate: key, frame, rect: whole, shown } as const
      return { bytes: await this.#drawn(task, lane, signal), rect: whole }
    }
    const { proxy } = await this.#proxy(plate, frame, name, lane, direction, signal)
    const part = rect === null ? null : partOf(rect, proxy)
    const { x, y, w, h } = part ?? { x: 0, y: 0, w: proxy.width, h: proxy.height }
    return {
      bytes: await this.#drawn({ kind: 'show', plate: key, proxy, part, shown }, lane, signal),
      rect: { x: x * factor, y: y * factor, w: w * factor, h: h * factor },
    }
  }

  async #drawn(task: PictureTask, lane: Lane, signal: AbortSignal): Promise<Uint8Array> {
    return (await this.threads.inTurn(lane, task, signal)) as Uint8Array
  }

  /** How far a frame has moved since another one, plate pixels; null where nothing tells. @throws the abort reason */
  async movement(before: SmallLight, after: SmallLight, signal: AbortSignal): Promise<number | null> {
    return (await this.threads.inTurn('later', { kind: 'moved', before, after }, signal)) as number | null
  }

  /** A frame's proxy for measuring it. @throws FRAME_MISSING, FRAME_UNREADABLE, the abort reason */
  async measured(plate: Plate, frame: number, signal: AbortSignal): Promise<ReadProxy> {
    return this.#proxy(plate, frame, await nameOf(plate, frame), 'later', 1, signal)
  }

  async #proxy(
    plate: Plate,
    frame: number,
    name: string,
    lane: Lane,
    direction: 1 | -1,
    signal: AbortSignal,
  ): Promise<ReadProxy> {
    const known = this.#proxies.get(name) ?? this.#reading.get(name)
    if (known !== undefined) return known
    return new Promise((resolve, reject) => {
      const read = async () => {
        const meanwhile = this.#proxies.get(name) ?? this.#reading.get(name)
        if (meanwhile !== undefined) {
          resolve(meanwhile)
          return
        }
        const frames = plate.streamed ? this.#pass(plate, frame, direction) : [frame]
        const { each, done } = this.#read(plate, await namesOf(plate, frames, frame, name), lane)
        // Whoever waits for one frame of a pass does not wait for the others. A lone frame's thread is free before it goes on, so
        // that the picture is drawn by that one and not by another that has to start.
        if (frames.length === 1) await done
        resolve(each.get(frame)!)
        await done
      }
      this.threads.lanes.run(lane, read, signal).catch(reject)
    })
  }

  /** Frames of a movie that are read with one of them. */
  #pass({ frames }: Plate, frame: number, direction: 1 | -1): number[] {
    const at = frames.indexOf(frame)
    const pass =
      direction === 1 ? frames.slice(at, at + PASS) : frames.slice(Math.max(0, at - PASS + 1), at + 1)
    return pass
  }

  /** @param names of the frames that are to be read */
  #read(
    plate: Plate,
    names: ReadonlyMap<number, string>,
    lane: Lane,
  ): { each: Map<number, Promise<ReadProxy>>; done: Promise<unknown> } {
    const { port1, port2 } = new MessageChannel()
    const waiting = new Map<
      number,
      { resolve: (read: ReadProxy) => void; reject: (cause: unknown) => void }
    >()
    const each = new Map<number, Promise<ReadProxy>>()
    for (const [frame, name] of names) {
      const promise = new Promise<ReadProxy>((resolve, reject) => waiting.set(frame, { resolve, reject }))
      // Nobody may be waiting for it.
      promise.catch(() => {})
      each.set(frame, promise)
      this.#reading.set(name, promise)
    }
    const settle = (frame: number, read: ReadProxy | null, cause?: unknown) => {
      const name = names.get(frame)!
      this.#reading.delete(name)
      const bytes = read?.proxy.halves.byteLength ?? 0
      // What is only measured must not drive out what is looked at.
      if (read !== null && (lane !== 'later' || this.#proxies.hasRoom(bytes)))
        this.#proxies.set(name, read, bytes)
      if (read === null) waiting.get(frame)?.reject(cause)
      else waiting.get(frame)?.resolve(read)
      waiting.delete(frame)
    }
    const ended = new Promise<void>((resolve) => {
      port1.on('message', (read: ReadFrame | null) => {
        if (read === null) resolve()
        else if (read.proxy === undefined) settle(read.frame, null, new OffcutError(read.code, read.message))
        else settle(read.frame, read)
      })
    })
    const task = { kind: 'read', plate: keyOf(plate), frames: [...names.keys()], port: port2 } as const
    const fail = (cause: unknown) => {
      for (const frame of [...waiting.keys()]) settle(frame, null, cause)
    }
    const done = this.threads
      .run(task, [port2])
      .then(() => ended)
      .then(() => fail(new OffcutError('FRAME_UNREADABLE', `${plate.name} was not read`)), fail)
      .finally(() => port1.close())
    return { each, done }
  }

  #directionTo(plate: Plate, frame: number): 1 | -1 {
    const last = this.#last
    this.#last = { plate: plate.spec, frame }
    return last !== undefined && last.plate === plate.spec && frame < last.frame ? -1 : 1
  }

  /** Neighbours of the frame that is looked at, in the place of those of the last one. */
  #readAhead(plate: Plate, frame: number, direction: 1 | -1): void {
    this.#ahead.abort()
    this.#ahead = new AbortController()
    const { signal } = this.#ahead
    const at = plate.frames.indexOf(frame)
    for (let k = 1; k <= AHEAD; k++) {
      const next = plate.frames[at + k * direction]
      if (next === undefined) return
      nameOf(plate, next)
        .then((name) => this.#proxy(plate, next, name, 'soon', direction, signal))
        // Whoever asks for it will hear of it.
        .catch(() => {})
    }
  }

  async close(): Promise<void> {
    this.#ahead.abort()
    await this.threads.close()
  }
}

export function keyOf({ spec, encoding, layer }: Plate): PlateKey {
  return { spec, encoding, ...(layer === undefined ? {} : { layer }) }
}

/** A name that changes with the file. @throws FRAME_MISSING */
async function nameOf(plate: Plate, frame: number): Promise<string> {
  const found = await stat(plate.pathOf(frame)).catch(() => null)
  return JSON.stringify([keyOf(plate), frame, found?.mtimeMs, found?.size])
}

async function namesOf(
  plate: Plate,
  frames: readonly number[],
  known: number,
  name: string,
): Promise<Map<number, string>> {
  const names = new Map<number, string>()
  for (const frame of frames) names.set(frame, frame === known ? name : await nameOf(plate, frame))
  return names
}

/** A rectangle of the plate in pixels of a proxy: those that it touches. */
function partOf({ x, y, w, h }: Rect, { factor, width, height }: ProxyPicture): Rect {
  const left = Math.min(width - 1, Math.floor(x / factor))
  const top = Math.min(height - 1, Math.floor(y / factor))
  const right = Math.max(left + 1, Math.min(width, Math.ceil((x + w) / factor)))
  const bottom = Math.max(top + 1, Math.min(height, Math.ceil((y + h) / factor)))
  return { x: left, y: top, w: right - left, h: bottom - top }
}
