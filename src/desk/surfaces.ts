// Light of the surface that a borrow hunts on, for every frame that the strip has measured: made anew a moment after the surface was
// drawn otherwise, in short turns, and told as it comes.
import { OffcutError } from '../errors.js'
import type { Plate } from '../footage/plate.js'
import { Turns } from '../turns.js'
import type { Events } from './events.js'
import type { Message, SurfaceFrame } from './messages.js'
import { type KeptLight, lightOn } from './pictures/kept-light.js'
import { sentenceOf } from './refused.js'
import type { Shot } from './shot.js'
import type { Strips } from './strips.js'
import { type SurfacePlan, type SurfaceWeights, surfacePlan, surfaceWeights } from './surface.js'

/** A shape that is being moved says so more often than this. */
const STILL_MS = 250

type Frames = Iterable<readonly [frame: number, light: KeptLight]>

export class Surfaces {
  readonly #surfaces = new Map<string, Surface>()
  #count = 0

  constructor(
    readonly strips: Strips,
    readonly events: Events,
  ) {
    strips.onMeasured = (shot, frames) => this.#surfaces.get(shot)?.add(frames)
  }

  /** Takes the surface as the shot has it now. @throws as Shot.plates */
  async follow(shot: Shot): Promise<void> {
    const plate = (await shot.plates())[0]!
    const plan = surfacePlan(shot.state, plate)
    const wish = JSON.stringify([plan, plate.spec, plate.encoding])
    const before = this.#surfaces.get(shot.name)
    if (before?.wish === wish || (before === undefined && plan === null)) return
    before?.close()
    const surface = new Surface(++this.#count, wish, plan, plate, (frames) =>
      this.events.tell(messageOf(shot.name, surface, frames)),
    )
    this.#surfaces.set(shot.name, surface)
    surface.begin(() => this.strips.measured(shot.name))
  }

  *known(): Iterable<Message> {
    for (const [shot, surface] of this.#surfaces) yield messageOf(shot, surface, surface.lights)
  }

  close(): void {
    for (const surface of this.#surfaces.values()) surface.close()
  }
}

class Surface {
  readonly lights = new Map<number, number | null>()
  /** Why it has no light. */
  message: string | undefined
  #weights: Promise<SurfaceWeights | null> | undefined
  #begun = false
  #turn: Promise<void> = Promise.resolve()
  #timer: NodeJS.Timeout | undefined
  readonly #stop = new AbortController()

  /** @param number counts the surfaces of all shots  @param wish the same for equal surfaces */
  constructor(
    readonly number: number,
    readonly wish: string,
    readonly plan: SurfacePlan | null,
    readonly plate: Plate,
    readonly tell: (frames: Iterable<readonly [number, number | null]>) => void,
  ) {}

  /** In a moment, unless it is drawn otherwise meanwhile. @param frames all that are measured by then */
  begin(frames: () => Frames): void {
    this.#timer = setTimeout(() => {
      this.#begun = true
      this.tell([])
      this.add(frames())
    }, STILL_MS)
  }

  /** Frames that are measured now; before it has begun they come then. */
  add(frames: Frames): void {
    if (!this.#begun || this.plan === null) return
    this.#turn = this.#turn
      .then(() => this.#measure(frames))
      .catch((cause) => {
        if (!this.#stop.signal.aborted) throw cause
      })
  }

  close(): void {
    clearTimeout(this.#timer)
    this.#stop.abort()
  }

  async #measure(frames: Frames): Promise<void> {
    const turns = new Turns(this.#stop.signal)
    const fresh: [number, number | null][] = []
    for (const [frame, small] of frames) {
      this.#weights ??= this.#weigh(this.plan!, small)
      const weights = await this.#weights
      this.#stop.signal.throwIfAborted()
      if (weights === null) return
      fresh.push([frame, lightOn(small, weights)])
      await turns.pause()
    }
    for (const [frame, light] of fresh) this.lights.set(frame, light)
    if (fresh.length > 0) this.tell(fresh)
  }

  /** @returns null with a message where its file is no mask of this plate */
  async #weigh(plan: SurfacePlan, small: KeptLight): Promise<SurfaceWeights | null> {
    try {
      return await surfaceWeights(plan, this.plate, small)
    } catch (cause) {
      if (!(cause instanceof OffcutError)) throw cause
      this.message = sentenceOf(cause).message
      if (!this.#stop.signal.aborted) this.tell([])
      return null
    }
  }
}

function messageOf(
  shot: string,
  { number, plan, message }: Surface,
  lights: Iterable<readonly [number, number | null]>,
): Message {
  const frames: SurfaceFrame[] = Array.from(lights, ([frame, light]) => ({ frame, light }))
  const of = plan?.of ?? null
  return { kind: 'surface', shot, surface: number, of, frames, ...(message === undefined ? {} : { message }) }
}
