// What the desk knows of one shot: `desk.json` in the shot's folder, and what the page is sent whenever it changes.
import * as z from 'zod'
import { FEATHER_SIDES, PATCH_FORMATS } from '../defaults.js'

/** Plate pixels from the top left corner of the frame, fractions allowed. */
const point = z.tuple([z.number(), z.number()])

/**
 * A shape as it lies on one frame: two opposite corners of a box or of the box round an ellipse, the corners of a polygon,
 * the course of a brush.
 */
const shapeKey = z.strictObject({ frame: z.int(), points: z.array(point).min(1).max(4000) })

/** A shape over time: between two of its keys every point moves straight and evenly, outside them it stands still. */
const shape = z.strictObject({
  id: z.string().min(1).max(40),
  kind: z.enum(['box', 'ellipse', 'polygon', 'brush']),
  /** Taken away from what was drawn before it. */
  cut: z.boolean(),
  /** Of a brush, pixels. */
  widthPx: z.number().positive().max(4000).optional(),
  keys: z
    .array(shapeKey)
    .min(1)
    .refine((keys) => keys.every(({ frame }, i) => i === 0 || frame > keys[i - 1].frame), {
      message: 'keys in the order of their frames, one a frame',
    })
    .refine((keys) => keys.every(({ points }) => points.length === keys[0].points.length), {
      message: 'as many points in each key as in the first',
    }),
})

/** Either what is drawn here or a file of the artist's own. */
const area = z.strictObject({ shapes: z.array(shape).max(400), file: z.string().nullable() })

const pair = z.tuple([z.number(), z.number()])

/** What is asked of a search; each as the option of `offcut find` that has its name. */
const asked = z.strictObject({
  aim: z.enum(['hide', 'borrow']),
  /** Target frames as they are typed, `1060-1069`; empty: none chosen yet. */
  frames: z.string().max(4000),
  region: area,
  avoid: area,
  maskAt: z.int().nullable(),
  grow: z.int().nullable(),
  donors: z.array(z.string()).max(50),
  donorFrames: z.string().max(4000),
  notFrames: z.string().max(4000),
  tries: z.array(z.string().max(200)).max(50),
  reach: z.union([z.int().nonnegative(), z.literal('anywhere')]).nullable(),
  surround: z.int().positive().nullable(),
  keep: z.int().positive().nullable(),
  encoding: z.string().max(40),
  layer: z.string().max(200).nullable(),
  peak: z.int().nullable(),
  sign: z.enum(['darker', 'brighter']).nullable(),
  like: z.int().nullable(),
  /** Surface to hunt on. */
  lookIn: area,
  offset: pair.nullable(),
})

/** What is asked of a patch; each as the option of `offcut patch` that has its name. */
const patchAsked = z.strictObject({
  whole: z.boolean(),
  format: z.enum(PATCH_FORMATS),
  feather: z.int().nonnegative().nullable(),
  featherSide: z.enum(FEATHER_SIDES).nullable(),
  nudge: pair.nullable(),
  membrane: z.boolean(),
  regrain: z.boolean(),
  strength: z.number().nonnegative().nullable(),
  fade: pair.nullable(),
})

/** A command that was run for this shot, and what became of it. */
const run = z.strictObject({
  /** Of a search `search-1`; of a patch the folder inside its search's. Below the shot's folder. */
  folder: z.string(),
  /** As it can be typed, from the folder that the desk was started in. */
  command: z.string(),
  state: z.enum(['running', 'done', 'stopped', 'failed']),
  /** Why it failed. */
  message: z.string().optional(),
  at: z.iso.datetime(),
})

const search = run.extend({ patches: z.array(run.extend({ candidate: z.string() })) })

export const shotStateSchema = z.strictObject({
  schema: z.literal('offcut.desk/1'),
  /** The name of the shot's folder. */
  name: z.string().min(1).max(120),
  /** Counts the changes. */
  revision: z.int().nonnegative(),
  /** As it was named; absolute. */
  plate: z.string().min(1),
  /** How pictures are shown. */
  view: z.strictObject({
    /** Frame that was looked at last. */
    frame: z.int(),
    exposureStops: z.number().min(-20).max(20),
    gamma: z.number().min(0.1).max(10),
    look: z.string().nullable(),
  }),
  asked,
  patch: patchAsked,
  /** The newest last. */
  searches: z.array(search),
})

export type ShotState = z.infer<typeof shotStateSchema>
export type Asked = z.infer<typeof asked>
export type PatchAsked = z.infer<typeof patchAsked>
export type Area = z.infer<typeof area>
export type Shape = z.infer<typeof shape>
export type Point = z.infer<typeof point>
export type Run = z.infer<typeof run>
export type SearchRun = z.infer<typeof search>

/** What a page may change of a shot: whole values of these, each absent where it stays. */
export const changeSchema = z.strictObject({
  view: shotStateSchema.shape.view.partial().optional(),
  asked: asked.partial().optional(),
  patch: patchAsked.partial().optional(),
})
export type Change = z.infer<typeof changeSchema>

const NO_AREA: Area = { shapes: [], file: null }

/** A shot as it begins. @param frame the one shown first */
export function newShot(name: string, plate: string, frame: number): ShotState {
  return {
    schema: 'offcut.desk/1',
    name,
    revision: 0,
    plate,
    view: { frame, exposureStops: 0, gamma: 1, look: null },
    asked: {
      aim: 'hide',
      frames: '',
      region: NO_AREA,
      avoid: NO_AREA,
      maskAt: null,
      grow: null,
      donors: [],
      donorFrames: '',
      notFrames: '',
      tries: [],
      reach: null,
      surround: null,
      keep: null,
      encoding: 'auto',
      layer: null,
      peak: null,
      sign: null,
      like: null,
      lookIn: NO_AREA,
      offset: null,
    },
    patch: {
      whole: false,
      format: 'exr',
      feather: null,
      featherSide: null,
      nudge: null,
      membrane: false,
      regrain: true,
      strength: null,
      fade: null,
    },
    searches: [],
  }
}
