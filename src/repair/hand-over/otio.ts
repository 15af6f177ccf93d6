// The retime as an OpenTimelineIO file: the target plate over the range, and the donors above it, that somebody can open
// the edit instead of typing it. Source: OpenTimelineIO, "Serialized Data Documentation" (Timeline.1 to RationalTime.1).
import { basename } from 'node:path'
import { pathToFileURL } from 'node:url'
import type { Plate } from '../../footage/plate.js'
import type { Patch } from './patch.js'
import { type Dissolve, dissolveInto, retimeOf, type Stretch } from './retime.js'

/** Where the plate's header gives no rate. */
const ASSUMED_RATE = 24

type Json = string | number | boolean | null | Json[] | { [key: string]: Json }
type Otio = { OTIO_SCHEMA: string; [key: string]: Json }

/** A patch and its donors' plates, as in its `donors`. */
export interface Retimed {
  readonly patch: Patch
  readonly donors: readonly Plate[]
}

/**
 * @param retimed patches of one sequence, the lowest first: each has a track of its own
 * @param target  as the patches were made for
 * @returns the text of an .otio file
 */
export function otioText(retimed: readonly Retimed[], target: Plate): string {
  return `${JSON.stringify(timelineOf(retimed, target), null, 2)}\n`
}

function timelineOf(retimed: readonly Retimed[], target: Plate): Otio {
  const patches = retimed.map(({ patch }) => patch)
  const { version, target: plate } = patches[0]!
  const first = Math.min(...patches.map((p) => p.target.first))
  const last = Math.max(...patches.map((p) => p.target.last))
  const rate = plate.framesPerSecond ?? ASSUMED_RATE
  const times = new Times(rate)
  const own = times.clip(
    target,
    { target: first, frames: last - first + 1, plate: 0, donor: first, speed: 1 },
    [],
  )
  const tracks = retimed.map(({ patch, donors }, i) => {
    const stretches = retimeOf({ frames: patch.frames, target: { ...patch.target, first, last } })
    const lent = stretches.flatMap((stretch, k) => {
      if (stretch.plate === null) return [times.gap(stretch.frames)]
      const clip = times.clip(donors[stretch.plate], stretch, sharedBy(patch, stretch))
      const dissolve = k === 0 ? null : dissolveInto(patch, stretches[k - 1]!, stretch)
      return dissolve === null ? [clip] : [times.dissolve(dissolve), clip]
    })
    return track(retimed.length > 1 ? `donors ${i + 1}: ${patch.candidate.id}` : 'donors', lent)
  })
  const ids = patches.map(({ candidate }) => candidate.id).join(' and ')
  return {
    OTIO_SCHEMA: 'Timeline.1',
    metadata: {
      offcut: {
        version,
        candidate: ids,
        kind: patches.map(({ candidate }) => candidate.kind).join(' and '),
        rateFrom: plate.framesPerSecond === null ? 'assumed: the plate names none' : "the plate's header",
      },
    },
    name: `${target.stem} ${ids}`,
    global_start_time: times.time(first),
    tracks: {
      OTIO_SCHEMA: 'Stack.1',
      ...item('tracks', null),
      children: [track('target', [own]), ...tracks],
    },
  }
}

/** The donors of frames that have several, which one clip can't show. */
function sharedBy({ frames }: Patch, { target, frames: count }: Stretch): Json[] {
  const within = frames.filter((f) => f.target >= target && f.target < target + count && f.lent.length > 1)
  return within.map((f) => ({
    target: f.target,
    lent: f.lent.map(({ plate, frame, share }) => ({ plate, frame, share })),
  }))
}

function track(name: string, children: Otio[]): Otio {
  return { OTIO_SCHEMA: 'Track.1', ...item(name, null), kind: 'Video', children }
}

function item(
  name: string,
  range: Otio | null,
  metadata: { [key: string]: Json } = {},
  effects: Otio[] = [],
) {
  return { metadata, name, source_range: range, effects, markers: [] as Json[], enabled: true }
}

/** Times and what is made of them at one rate. */
class Times {
  constructor(readonly rate: number) {}

  time(value: number): Otio {
    return { OTIO_SCHEMA: 'RationalTime.1', rate: this.rate, value }
  }

  range(start: number, frames: number): Otio {
    return { OTIO_SCHEMA: 'TimeRange.1', duration: this.time(frames), start_time: this.time(start) }
  }

  gap(frames: number): Otio {
    return { OTIO_SCHEMA: 'Gap.1', ...item('', this.range(0, frames)) }
  }

  /** Between two clips, of which it makes neither shorter. */
  dissolve({ before, after }: Dissolve): Otio {
    return {
      OTIO_SCHEMA: 'Transition.1',
      metadata: {},
      name: '',
      transition_type: 'SMPTE_Dissolve',
      in_offset: this.time(before),
      out_offset: this.time(after),
    }
  }

  /** A range names the media's frames in their own order: of a stretch that plays backwards the earliest comes first. */
  clip(plate: Plate, { target, frames, donor, speed }: Stretch, shared: Json[]): Otio {
    const start = speed < 0 ? donor - frames + 1 : donor
    const offcut: Json = { target, donor, speed, ...(shared.length > 0 ? { shared } : {}) }
    return {
      OTIO_SCHEMA: 'Clip.2',
      ...item(plate.name, this.range(startIn(plate, start), frames), { offcut }, effectsOf(speed)),
      active_media_reference_key: 'DEFAULT_MEDIA',
      media_references: { DEFAULT_MEDIA: this.media(plate) },
    }
  }

  media(plate: Plate): Otio {
    const { name, first, last } = plate
    const common = {
      metadata: {},
      name,
      available_range: this.range(startIn(plate, first), last - first + 1),
      available_image_bounds: null,
    }
    const parts = sequenceParts(plate)
    if (parts === null) {
      const url = pathToFileURL(plate.pathOf(first)).href
      return { OTIO_SCHEMA: 'ExternalReference.1', ...common, target_url: url }
    }
    return {
      OTIO_SCHEMA: 'ImageSequenceReference.1',
      ...common,
      target_url_base: `${pathToFileURL(plate.folder).href}/`,
      name_prefix: parts.prefix,
      name_suffix: parts.suffix,
      start_frame: first,
      frame_step: 1,
      rate: this.rate,
      frame_zero_padding: parts.padding,
      missing_frame_policy: 'error',
    }
  }
}

/** A sequence is counted by its file names, a movie from 0, as every player counts it. */
function startIn(plate: Plate, frame: number): number {
  return plate.streamed ? frame - 1 : frame
}

function effectsOf(speed: Stretch['speed']): Otio[] {
  if (speed === 1) return []
  const common = { metadata: {}, name: '', time_scalar: speed }
  return speed === 0
    ? [{ OTIO_SCHEMA: 'FreezeFrame.1', ...common, effect_name: 'FreezeFrame' }]
    : [{ OTIO_SCHEMA: 'LinearTimeWarp.1', ...common, effect_name: 'LinearTimeWarp' }]
}

/** What stands round the number in the names of a sequence, and its digits; null for a movie and for a lone still. */
function sequenceParts(plate: Plate): { prefix: string; suffix: string; padding: number } | null {
  if (plate.streamed) return null
  const file = basename(plate.pathOf(plate.first))
  const digits = plate.numberOf(plate.first)
  const padding = plate.name.length - file.length + digits.length
  if (padding < 1) return null
  for (let at = file.indexOf(digits); at >= 0; at = file.indexOf(digits, at + 1)) {
    const [prefix, suffix] = [file.slice(0, at), file.slice(at + digits.length)]
    if (plate.name === prefix + '#'.repeat(padding) + suffix) return { prefix, suffix, padding }
  }
  return null
}
