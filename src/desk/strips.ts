// Strips of all shots that are looked at: a plate is measured once, whoever asks, and told to all of them.
import type { Plate } from '../footage/plate.js'
import type { Events } from './events.js'
import type { Message } from './messages.js'
import type { KeptLight } from './pictures/kept-light.js'
import { keyOf, type Pictures } from './pictures/pictures.js'
import type { Shot } from './shot.js'
import { Strip } from './strip.js'

interface Place {
  readonly shot: string
  readonly plate: number
}

export class Strips {
  readonly #strips = new Map<string, { strip: Strip; places: Place[] }>()
  /** Hears of frames of a shot's target plate that are known now, or known better. */
  onMeasured: (shot: string, frames: Iterable<readonly [number, KeptLight]>) => void = () => {}
  /** Plates of a shot as they were followed last. */
  readonly #followed = new Map<string, readonly Plate[]>()

  constructor(
    readonly pictures: Pictures,
    readonly events: Events,
  ) {}

  /** Measures the plates of a shot as they are now, and no longer those that it had. @throws as Shot.plates */
  async follow(shot: Shot): Promise<void> {
    const plates = await shot.plates()
    if (this.#followed.get(shot.name) === plates) return
    this.#followed.set(shot.name, plates)
    for (const known of this.#strips.values())
      known.places = known.places.filter((place) => place.shot !== shot.name)
    for (const [index, plate] of plates.entries()) {
      const place = { shot: shot.name, plate: index }
      const key = JSON.stringify([keyOf(plate), plate.frames])
      const known = this.#strips.get(key)
      if (known !== undefined) {
        known.places.push(place)
        if (known.strip.frames.size > 0)
          this.events.tell({ kind: 'strip', ...place, frames: [...known.strip.frames.values()] })
        continue
      }
      const places = [place]
      const made = {
        places,
        strip: new Strip(plate, this.pictures, (frames) => {
          for (const at of made.places) this.events.tell({ kind: 'strip', ...at, frames })
          const { kept } = made.strip
          const fresh = frames.flatMap(({ frame }) => {
            const small = kept.get(frame)
            return small === undefined ? [] : [[frame, small] as const]
          })
          for (const { shot, plate: at } of made.places) if (at === 0) this.onMeasured(shot, fresh)
        }),
      }
      this.#strips.set(key, made)
    }
    for (const [key, { strip, places }] of this.#strips)
      if (places.length === 0) {
        strip.close()
        this.#strips.delete(key)
      }
  }

  /** Small pictures of a shot's target plate, as far as it is measured. */
  measured(shot: string): Iterable<readonly [number, KeptLight]> {
    const found = [...this.#strips.values()].find(({ places }) =>
      places.some((place) => place.shot === shot && place.plate === 0),
    )
    return found?.strip.kept ?? []
  }

  *known(): Iterable<Message> {
    for (const { strip, places } of this.#strips.values())
      for (const place of places)
        if (strip.frames.size > 0) yield { kind: 'strip', ...place, frames: [...strip.frames.values()] }
  }

  close(): void {
    for (const { strip } of this.#strips.values()) strip.close()
  }
}
