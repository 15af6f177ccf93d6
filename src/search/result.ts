// The result file, `result.json`: its schema and its types.
import { z } from 'zod'
import { CANDIDATE_KINDS } from './kinds.js'
import { FRAME_MEASURE_KEYS, MEASURE_KEYS, MEASURES, recordOf } from './measures.js'
import { pieceMapSchema } from './piece-map-schema.js'

const finite = z.number()
const frameNumber = z.int()
/** Numbers that footage may not have (a flat surround has no correlation) are null, with the reason in `why`. */
const measure = finite.nullable()
const rgb = z.tuple([finite, finite, finite])

/** Nine numbers, row by row. */
const matrix = z.tuple([finite, finite, finite, finite, finite, finite, finite, finite, finite])
const transform = matrix
  .optional()
  .describe(
    "3 x 3, row by row: takes the donor's pixel to its place on the target; absent where it is the shift by dx, dy, which otherwise are the offset at the region's middle",
  )

/** Of a share of a frame. */
export const fieldSchema = z
  .strictObject({
    x: finite.describe("where the field is 0: the target's pixel"),
    y: finite,
    span: finite.positive().describe('the length that u and v are counted in, pixels'),
    stops: z
      .array(rgb)
      .min(2)
      .max(4)
      .describe(
        'stops of R, G and B by term: u, v and, of a surface of second order, u * u - v * v and 2 * u * v, with u = (x - field.x) / span to the right, v likewise down',
      ),
  })
  .optional()
  .describe('how the light differs over the region, beyond the gain; absent: it does not')

const stackShare = z.strictObject({
  plate: z.int().nonnegative().describe('index into donors'),
  frame: frameNumber,
  dx: finite,
  dy: finite,
  transform,
  gain: rgb,
  field: fieldSchema,
  weight: finite.describe(
    'share in the mean, or of a piece in the region, 0 to 1; all shares of a frame add up to 1',
  ),
})

const { stops: frameStops, ...frameMeasures } = recordOf(FRAME_MEASURE_KEYS, () => measure)

const frameMatch = z.strictObject({
  target: frameNumber,
  plate: z.int().nonnegative().describe('index into donors of the plate that `donor` is a frame of'),
  donor: frameNumber.describe('the donor frame; of a stack or mosaic, the one with the largest share'),
  dx: finite.describe('pixels to the right; move the donor by it and it lies on the target'),
  dy: finite.describe('pixels down'),
  transform,
  stops: frameStops.describe('target over donor on the surround, log base 2'),
  gain: rgb.describe('linear-light factor per channel that brings the donor to the target'),
  field: fieldSchema,
  ...frameMeasures,
  stack: z
    .array(stackShare)
    .optional()
    .describe('the donors of a stack for this frame, or both of a relay where one dissolves into the next'),
  pieces: z
    .array(stackShare)
    .min(2)
    .optional()
    .describe("the donors of a mosaic for this frame, in the order of the map's numbers"),
  map: z
    .strictObject({ dx: finite, dy: finite, transform })
    .optional()
    .describe("moves a mosaic's map onto this target frame, pixels"),
  quiet: z
    .strictObject({ dx: finite, dy: finite, transform, gain: rgb })
    .optional()
    .describe(
      "of a borrow: moves the moment's reference state onto this target frame, and brings it to the donor's light",
    ),
})

const moment = z.strictObject({
  donor: z.int().nonnegative(),
  start: frameNumber,
  peak: frameNumber,
  end: frameNumber,
  what: z.enum(['light', 'object']).describe('a change of light on the surface, or something that covers it'),
  sign: z.enum(['darker', 'brighter']),
  depthStops: finite.describe('change of luminance where it is deepest at the peak, stops, without sign'),
  coverage: finite.describe('share of the region that is changed at the peak, 0 to 1'),
  surface: measure.describe(
    "the texture's correlation with the reference state after the smooth change is divided out; null: no texture to tell by",
  ),
  colour: rgb.describe(
    'per channel, its change at the peak over the change of luminance, linear-light factors',
  ),
  worst: frameNumber
    .optional()
    .describe(
      'the donor frame on which the lift is furthest from what a shadow or gleam can be, or most of the surface is covered; absent: none is',
    ),
  likeness: finite
    .optional()
    .describe('to the frame that was asked for, 1: the same change, 0 or less: nothing alike'),
  edgeStep: finite
    .min(0)
    .optional()
    .describe(
      "the largest step of the light on which the lift ends, at the mask's edge or that of the donor's frame, stops without sign; 0: none shows; absent: not looked for, as of an object",
    ),
  depths: z
    .array(z.strictObject({ frame: frameNumber, stops: finite }))
    .optional()
    .describe(
      'mean change of the region in stops over the frames round the moment, below 0 where it is darker',
    ),
  quiet: z
    .array(frameNumber)
    .optional()
    .describe('frames of the donor plate whose mean is the reference state'),
  quietState: z
    .array(stackShare)
    .optional()
    .describe('the same frames, each with what moves it onto the peak frame and brings it to its light'),
})

export const candidateKindSchema = z.enum(CANDIDATE_KINDS)
export const verdictSchema = z.enum(['holds up', 'needs work', 'will not hold'])

const candidate = z.strictObject({
  id: z.string().regex(new RegExp(`^(${candidateKindSchema.options.join('|')})[-+][\\w.-]+$`)),
  kind: candidateKindSchema,
  donor: z.int().nonnegative().describe('index into donors'),
  timeOffset: z
    .int()
    .nullable()
    .describe('donor frame minus target frame, of a run; null for the other kinds'),
  score: finite.min(0).max(100),
  verdict: verdictSchema,
  why: z.string(),
  ...recordOf(MEASURE_KEYS, (key) => measure.describe(MEASURES[key].meaning)),
  interval: z
    .tuple([finite, finite])
    .nullable()
    .optional()
    .describe('the ends between which `expected` lies with nine chances in ten, dB'),
  frames: z.array(frameMatch).min(1),
  asked: z.literal(true).optional().describe('it was asked for by name, and is listed whatever comes of it'),
  map: pieceMapSchema.optional().describe('of a mosaic: which piece lends which pixel'),
  alternatives: z
    .array(z.strictObject({ id: z.string(), score: finite }))
    .optional()
    .describe('near-equals folded under this row, best first'),
  moment: moment.optional(),
})

const rect = z
  .tuple([z.int(), z.int(), z.int().positive(), z.int().positive()])
  .describe('x, y, width, height in plate pixels')

const prints = z.record(z.string().regex(/^-?\d+$/), z.string()).describe('per frame number')

const fingerprints = z.strictObject({
  options: z.string(),
  mask: prints.optional().describe("of the mask's weights; absent for a box"),
  plates: z
    .array(prints)
    .describe('as in donors: size and date of the files that targets and candidates use'),
})

const active = rect.describe(
  'the part of the frame that holds picture: x, y, width, height; absent: all of it',
)

const cut = z.strictObject({
  side: z.enum(['left', 'right', 'upper', 'lower']).describe("the mask's edge that is crossed"),
  open: z.boolean().describe('it goes on beyond what was looked at'),
  frames: z
    .array(
      z.strictObject({
        frame: frameNumber,
        px: z.int().positive().describe('how far beyond the mask it reaches, pixels'),
        box: rect.describe('what of it lies beyond the mask: x, y, width, height in plate pixels'),
      }),
    )
    .min(1)
    .describe('the target frames on which it does'),
})

const camera = z.strictObject({
  model: z
    .enum(['shift', 'similarity', 'homography'])
    .describe(
      'the simplest motion that explains the footage: moved; moved, turned and scaled; any view of a plane',
    ),
  reference: frameNumber.describe("the target plate's frame whose pixels are the common grid of all frames"),
  frames: z
    .array(
      z.strictObject({
        plate: z.int().nonnegative().describe('index into donors'),
        frame: frameNumber,
        pose: matrix
          .nullable()
          .describe(
            "3 x 3, row by row: takes the frame's pixel to the common grid; null where the camera was not followed",
          ),
        sigma: finite.min(0).nullable().describe('uncertainty of the pose, pixels; null: unknown'),
      }),
    )
    .min(1),
})

export const resultSchema = z.strictObject({
  schema: z.literal('offcut.result/1'),
  aim: z.enum(['hide', 'borrow']),
  target: z.strictObject({
    plate: z.string(),
    first: frameNumber,
    last: frameNumber,
    frames: z.array(frameNumber).min(1),
    width: z.int().positive(),
    height: z.int().positive(),
    encoding: z.string(),
    encodingWhy: z.string(),
    layer: z.string().optional(),
    active: active.optional(),
  }),
  region: z.strictObject({
    mask: z.string().nullable().describe('null where the region was given as a box'),
    maskFit: z.enum(['same', 'centre', 'scale']),
    box: rect,
    grow: z.int().optional().describe('pixels by which the mask or box was grown; below 0 it was shrunk'),
    drawn: rect
      .optional()
      .describe('the box before it was grown; absent for a mask, and where it was not grown'),
    at: frameNumber
      .optional()
      .describe(
        'the target frame on which the mask was drawn: it rides along with the scenery; absent: it stays where it is in the frame',
      ),
    surround: z.int().positive(),
    avoid: z
      .string()
      .optional()
      .describe('masks of what was not to be seen of the target plate; absent: nothing'),
    empty: z
      .array(frameNumber)
      .optional()
      .describe(
        'frames that were asked for whose mask is black: not among the target frames, left as they are',
      ),
  }),
  borrow: z
    .strictObject({
      peak: frameNumber.describe('the target frame that the peak of the change is to land on'),
      sign: z.enum(['darker', 'brighter']).nullable().describe('the only sign that was looked for'),
      like: frameNumber.nullable().describe('the donor frame that shows what is wanted'),
      lookIn: rect.nullable().describe('the other surface that was searched; null: the region itself'),
      offset: z
        .tuple([finite, finite])
        .describe('2D offset that carries the searched surface onto the region'),
    })
    .optional()
    .describe('what was asked for with the aim borrow'),
  camera: camera
    .optional()
    .describe('how the camera moved; absent where it stands, or sways within the reach'),
  reach: z.int().nonnegative().describe('largest 2D offset searched, pixels'),
  anywhere: z
    .literal(true)
    .optional()
    .describe("other places of the target's own frames were searched, too: the donors with a `place`"),
  donors: z.array(
    z.strictObject({
      plate: z.string(),
      first: frameNumber,
      last: frameNumber,
      frames: z.int().positive(),
      asked: z
        .array(frameNumber)
        .optional()
        .describe(
          'its frames that `donorFrames` names and `notFrames` does not, the only ones that may lend; absent: all of them',
        ),
      size: z
        .tuple([z.int().positive(), z.int().positive()])
        .optional()
        .describe("width, height in pixels, of a plate of another size than the target's"),
      encoding: z.string(),
      layer: z.string().optional(),
      active: active.optional(),
      place: z
        .tuple([finite, finite])
        .optional()
        .describe(
          'of the target plate once more: the 2D offset that brings another place of its frames to the region',
        ),
    }),
  ),
  look: z
    .string()
    .optional()
    .describe('the .cube file that its pictures are seen through; absent: they are shown as sRGB'),
  warnings: z.array(z.string()),
  cuts: z
    .array(cut)
    .min(1)
    .optional()
    .describe("where something crosses the mask's edge and moves with what is inside; absent: nowhere"),
  matrix: z
    .strictObject({
      targets: z.array(frameNumber),
      donors: z.array(z.strictObject({ plate: z.int().nonnegative(), frame: frameNumber })),
      quality: z
        .array(z.array(z.number().min(0).max(100).nullable()))
        .describe('a row per target frame, a column per donor frame; 0 to 100, null: not comparable'),
    })
    .optional()
    .describe('the match matrix'),
  candidates: z.array(candidate).describe('best first'),
  fingerprints: fingerprints
    .optional()
    .describe(
      'of what the search was given, so that a later change is noticed; results made before have none',
    ),
})

export type Result = z.infer<typeof resultSchema>
export type Fingerprints = z.infer<typeof fingerprints>
export type Candidate = z.infer<typeof candidate>
export type FrameMatch = z.infer<typeof frameMatch>
export type LightFieldEntry = NonNullable<FrameMatch['field']>
export type StackShare = z.infer<typeof stackShare>
export type Camera = z.infer<typeof camera>
export type Cut = z.infer<typeof cut>
export type Moment = z.infer<typeof moment>
export type Verdict = Candidate['verdict']
