// patch.json: every number that somebody would need to make a patch again by hand. Its schema and its types.
import { z } from 'zod'
import { FEATHER_SIDES } from '../../defaults.js'
import { candidateKindSchema, fieldSchema, verdictSchema } from '../../search/result.js'

const finite = z.number()
const frameNumber = z.int()
const rgb = z.tuple([finite, finite, finite])
const rect = z.tuple([z.int(), z.int(), z.int().positive(), z.int().positive()])
const matrix = z.tuple([finite, finite, finite, finite, finite, finite, finite, finite, finite])

const placed = {
  dx: finite.describe("pixels to the right that move the donor onto the target, at the region's middle"),
  dy: finite.describe('pixels down'),
  transform: matrix.describe(
    "3 x 3, row by row: takes the donor's pixel to its place on the target; pixel centres are whole numbers, y is down",
  ),
  gain: rgb.describe('linear-light factor of R, G and B'),
}

const measured = finite.nullable()

const lender = {
  plate: z.int().nonnegative().describe('index into donors'),
  frame: frameNumber.describe('of the donor plate'),
  timeOffset: z.int().describe('donor frame minus target frame'),
  ...placed,
  field: fieldSchema,
}

const share = z.strictObject({
  ...lender,
  share: finite.describe(
    'of the mean of a stack, or of the region by a piece, 0 to 1; 1 where one donor lends all',
  ),
  finest: z
    .strictObject(lender)
    .optional()
    .describe(
      "a frame beside it, whose finest detail stands for that of a donor that is held; absent: the donor's own does",
    ),
})

const frame = z.strictObject({
  target: frameNumber,
  file: z.string().describe('its name in this folder'),
  lent: z
    .array(share)
    .describe('what lends to it; empty where the mask is black: nothing is laid over the frame'),
  grain: z
    .strictObject({
      ...lender,
      strength: finite
        .positive()
        .describe('what that part of the detail is multiplied by that is another one on each frame'),
    })
    .optional()
    .describe("whose finest detail stands for that of what is lent; absent: the lenders' own does"),
  reference: z
    .strictObject(placed)
    .optional()
    .describe(
      "of a ratio: moves the moment's reference state onto this frame, and brings it to the donor's light",
    ),
  strength: finite
    .optional()
    .describe('of a ratio: what its stops are multiplied by on this frame, fade included; 0: left as it is'),
  motionBlur: z
    .enum(['plate', 'donor'])
    .optional()
    .describe('which of both is blurred in one direction, as by a camera that moves, where the other is not'),
  check: z
    .strictObject({
      seam: measured.describe("step across the patch's border, in units of what grain alone gives"),
      detail: measured.describe(
        'detail inside over that of the donors by themselves; null where they are lent as they are',
      ),
      flicker: measured.describe(
        'change from the frame before inside over that of the surround, at the same light',
      ),
      noise: rgb
        .nullable()
        .describe('R, G, B: noise inside over that of the surround, at the same light; frame to frame'),
      uncertainty: measured.describe(
        'standard error of flicker and noise: so much of them may be chance, being told by few pixels',
      ),
    })
    .optional()
    .describe('of a patch and its whole frames: what the frame looks like; null: nothing to tell it by'),
})

const stray = z.strictObject({ flicker: finite.min(0), noise: finite.min(0) })

export const patchSchema = z.strictObject({
  schema: z.literal('offcut.patch/1'),
  version: z.string().describe('of offcut'),
  aim: z.enum(['hide', 'borrow']),
  candidate: z.strictObject({
    id: z.string(),
    kind: candidateKindSchema,
    timeOffset: z.int().nullable().describe('of a run; null for the other kinds'),
    verdict: verdictSchema,
    why: z.string(),
  }),
  what: z
    .enum(['patch', 'repaired', 'ratio', 'borrowed'])
    .describe(
      'patch: to be laid over the plate; ratio: to multiply it with; repaired, borrowed: whole frames with either done',
    ),
  format: z.enum(['exr', 'png', 'tif']),
  encoding: z.string().describe('of the files that are written: linear, or that of the plate'),
  alpha: z
    .enum(['premultiplied', 'straight'])
    .nullable()
    .describe("of a patch; null: a ratio has none, and whole frames have the plate's own"),
  target: z.strictObject({
    plate: z.string(),
    first: frameNumber,
    last: frameNumber,
    width: z.int().positive(),
    height: z.int().positive(),
    encoding: z.string(),
    framesPerSecond: finite
      .positive()
      .nullable()
      .describe("as the plate's header has it; null: it says nothing"),
  }),
  region: z.strictObject({
    mask: z.string().nullable().describe('null where the region was given as a box'),
    box: rect.describe('x, y, width, height in plate pixels'),
    window: rect.describe('the pixels that may change: region and surround, clipped to the frame'),
    feather: z
      .int()
      .nonnegative()
      .describe("width over which the patch fades out at the mask's edge, pixels"),
    featherSide: z.enum(FEATHER_SIDES).describe("where from the mask's edge it does"),
  }),
  nudge: z
    .tuple([finite, finite])
    .optional()
    .describe('dx, dy by which the donors were moved by hand, in all of dx and dy'),
  membrane: z
    .boolean()
    .optional()
    .describe('of a patch: what was left of a difference in light at its border is closed'),
  sharpness: z
    .strictObject({
      blur: finite
        .nonnegative()
        .describe('sigma of the Gaussian under which lent pixels are as sharp as the plate, pixels; 0: none'),
      softer: finite
        .nonnegative()
        .describe('sigma of the Gaussian by which the donors are softer, which is left as it is, pixels'),
    })
    .optional()
    .describe("of a patch: how the donors' sharpness differs from the plate's where somebody would see it"),
  regrain: z.boolean().optional().describe('of a patch: grain that was lost is put back'),
  strength: finite
    .optional()
    .describe('of a ratio: what its stops are multiplied by in the middle of the moment'),
  fade: z
    .tuple([z.int().nonnegative(), z.int().nonnegative()])
    .optional()
    .describe('of a ratio: frames over which it was asked to come in and to go out; absent: left to offcut'),
  reference: z
    .array(z.strictObject({ plate: z.int().nonnegative(), frame: frameNumber }))
    .optional()
    .describe("of a ratio: the frames whose mean is the moment's reference state"),
  donors: z.array(
    z.strictObject({
      plate: z.string(),
      first: frameNumber,
      last: frameNumber,
      width: z.int().positive(),
      height: z.int().positive(),
      encoding: z.string(),
    }),
  ),
  black: z.array(frameNumber).describe('target frames whose mask is black: the file lays nothing over them'),
  skipped: z.array(frameNumber).describe('target frames that the candidate does not fill: there is no file'),
  check: z
    .strictObject({
      seam: measured,
      flicker: measured,
      noise: rgb.nullable(),
      spectrum: measured.describe(
        'log-spectral distance of the noise inside to that of the surround, radially averaged, dB',
      ),
      stray: z
        .strictObject({ frame: stray, all: stray })
        .nullable()
        .optional()
        .describe(
          'how far flicker and noise stray where the plate has no patch, of one frame and of all: standard deviations of natural logarithms; limits are as much wider, twice; null: not told',
        ),
      unmeasured: z.string().nullable().describe('why something is null; null where nothing is'),
    })
    .optional()
    .describe('of a patch and its whole frames: what all frames together look like'),
  warnings: z.array(z.string()).describe('what is wrong with the files or doubtful in them, a sentence each'),
  frames: z.array(frame).min(1).describe('in order, one per file'),
})

/** What was written and how: the content of patch.json. */
export type Patch = z.infer<typeof patchSchema>
export type PatchFrame = Patch['frames'][number]
export type PatchShare = PatchFrame['lent'][number]
