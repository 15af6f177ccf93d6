// sheet.png, the quick look: a row per candidate with its pictures and its numbers.
import sharp from 'sharp'
import type { Rect } from '../../raster/rect.js'
import { MEASURE_KEYS } from '../../search/measures.js'
import type { Candidate, Result } from '../../search/result.js'
import { cameraPath } from '../data/camera-path.js'
import { cameraWords } from '../data/camera-words.js'
import type { Row, Still } from '../data/gather.js'
import { figures, measures, scoreFigures, standing } from '../data/measures.js'
import { withMinus } from '../data/minus.js'
import { numbered } from '../data/pieces.js'
import {
  count,
  donorSpan,
  frameSpan,
  grownWords,
  inWords,
  nothing,
  offsetSpan,
  outcome,
  VERDICT_MARK,
} from '../data/words.js'
import { zoomAndRoll } from '../data/zoom-roll.js'
import { type Canvas, greyCanvas, layInk, layPicture } from './canvas.js'
import { fitText, type Line, layLines, textWidth, wrapText } from './lettering.js'

/** Candidates drawn; the page has them all. */
const MAX_ROWS = 12
/** The room that a picture has. */
const PICTURE_WIDTH = 270
const PICTURE_HEIGHT = 250
const GAP = 12
const MARGIN = 32
const SIDE = 350
/** Narrow pictures stand this far apart at least, so that their headings fit. */
const MIN_COLUMN = 220
const HEAD = 150
const LEGEND = 34
/** The numbers: the first line's base below a row's top, and from line to line. */
const NUMBERS_TOP = 16
const NUMBERS_LEAD = 19
/** They need this height: the measures, dx and dy, zoom and roll where there are any, and what sets them off. */
const minRow = (more: boolean) =>
  NUMBERS_TOP + NUMBERS_LEAD * (MEASURE_KEYS.length + (more ? 4 : 2)) - 1 - 2 * GAP
/** Room for the camera's path in the heading. */
const CAMERA = { width: 360, height: HEAD - 8 }
/** The number in a piece of a mosaic: its letters, and the ground under them. */
const PLAQUE_LETTERS = 15
const PLAQUE_HEIGHT = 20
const SURROUND_GREY = 58
const HEADINGS = {
  hide: ['target, mask outlined', 'donor, moved', 'repaired', 'difference ×8'],
  borrow: ['target, mask outlined', 'donor', 'ratio, in stops', 'with it applied'],
}

const MID_GREY = 'mid grey: no difference'

/** What is drawn over the pictures: SVG strokes and grounds, and lines of text over them. */
interface Drawn {
  readonly ink: string
  readonly lines: readonly Line[]
}

interface Plan {
  readonly pixelAspect: number
  readonly column: number
  readonly rowHeight: number
  readonly width: number
}

/**
 * The contact sheet as a PNG file's bytes. Names from outside are drawn letter by letter, never read as markup.
 *
 * @param look        name of the look that the pictures are seen through; null where there is none
 * @param pixelAspect width of the plate's pixels over their height
 */
export async function contactSheet(
  result: Result,
  rows: readonly Row[],
  { look, pixelAspect }: { readonly look: string | null; readonly pixelAspect: number },
): Promise<Buffer> {
  const drawn = rows.slice(0, MAX_ROWS)
  const sizes = drawn.map((row) => pictureSize(row.rect, pixelAspect))
  const column = Math.max(MIN_COLUMN, ...sizes.map((size) => size.w)) + GAP
  const turned = drawn.some(({ candidate }) => zoomAndRoll(candidate, result) !== null)
  const rowHeight = Math.max(minRow(turned), ...sizes.map((size) => size.h)) + 2 * GAP
  const plan: Plan = { column, rowHeight, pixelAspect, width: 2 * MARGIN + 4 * column + 2 * SIDE }
  const height = HEAD + LEGEND + drawn.length * rowHeight + MARGIN
  const canvas = greyCanvas(plan.width, height, SURROUND_GREY)
  const thumbnails = new Thumbnails(pixelAspect)
  for (const [i, row] of drawn.entries()) {
    const top = HEAD + LEGEND + i * rowHeight + GAP
    const left = MARGIN + SIDE
    const pictures = row.ratio
      ? [row.target, row.donor, row.ratio, row.repaired]
      : [row.target, row.donor, row.repaired, row.difference]
    for (const [k, picture] of pictures.entries()) {
      layPicture(canvas, await thumbnails.of(picture, row.rect), left + k * column, top)
    }
  }
  const head = heading(result, rows.length, look, plan)
  const below = drawn.map((row, i) => rowInk(row, i, plan, result))
  const left = MARGIN + SIDE - GAP
  // Outlines lie on the first picture of a row; where pieces are numbered, on its second, too.
  const wide = below.some(({ numbered }) => numbered) ? 4 * column + GAP : column + GAP
  await draw(canvas, { x: 0, y: 0, w: plan.width, h: HEAD }, head.ink)
  await draw(canvas, { x: left, y: HEAD, w: wide, h: height - HEAD }, below.map(({ ink }) => ink).join(''))
  layLines(
    canvas,
    [head, ...below].flatMap(({ lines }) => lines),
  )
  const raw = { width: plan.width, height, channels: 3 as const }
  return (
    sharp(canvas.samples, { raw, limitInputPixels: false })
      // A sheet of 1812 x 3504 pixels takes 73 ms in 3.39 MB, 97 ms and 3.31 MB at level 6; a higher level takes four times as long
      // for a twentieth of the bytes.
      .png({ compressionLevel: 2 })
      .toBuffer()
  )
}

/** As large as there is room for; its scales across and down, which differ where the plate's pixels are not square. */
function pictureSize(
  { w, h }: Rect,
  aspect: number,
): { w: number; h: number; across: number; scale: number } {
  const scale = Math.min(PICTURE_WIDTH / (w * aspect), PICTURE_HEIGHT / h)
  const across = scale * aspect
  return { w: Math.max(1, Math.round(w * across)), h: Math.max(1, Math.round(h * scale)), across, scale }
}

/** Pictures that several rows show are brought to their size once. */
class Thumbnails {
  readonly #known = new Map<Still, Promise<Still>>()
  constructor(readonly aspect: number) {}

  of(picture: Still, rect: Rect): Promise<Still> {
    const made = this.#known.get(picture) ?? thumbnail(picture, pictureSize(rect, this.aspect))
    this.#known.set(picture, made)
    return made
  }
}

/** Lays what of an SVG's shapes, in the canvas's pixels, lies in a part of it. */
async function draw(canvas: Canvas, part: Rect, shapes: string): Promise<void> {
  if (shapes === '') return
  const { x, y, w, h } = part
  const svg = `<svg xmlns="http://www.w3.org/2000/svg" width="${w}" height="${h}" viewBox="${x} ${y} ${w} ${h}">${shapes}</svg>`
  layInk(canvas, part, await sharp(Buffer.from(svg)).ensureAlpha().raw().toBuffer())
}

async function thumbnail(picture: Still, { w, h }: Pick<Rect, 'w' | 'h'>): Promise<Still> {
  const raw = { width: picture.w, height: picture.h, channels: 3 as const }
  // Enlarged pixels stay pixels: smoothing them would hide a seam.
  const kernel = w > picture.w ? 'nearest' : 'lanczos3'
  const resized = sharp(picture.samples, { raw }).resize(w, h, { fit: 'fill', kernel })
  return { w, h, samples: await resized.raw().toBuffer() }
}

function heading(
  result: Result,
  shown: number,
  look: string | null,
  { column, width: sheetWidth }: Plan,
): Drawn {
  const { target, region } = result
  const [x, y, w, h] = region.box
  const path = cameraInk(result, sheetWidth - MARGIN)
  const width = sheetWidth - 2 * MARGIN - path.width
  const asked = [
    target.plate,
    `${frameSpan(target.first, target.last)} (${count(target.frames.length, 'frame')})`,
    `region ${w} × ${h} at ${x}, ${y}${grownWords(region)}`,
    `${target.encoding} (${target.encodingWhy})`,
    ...(look === null ? [] : [`seen through ${look}`]),
  ].join('   ')
  const narrowed = result.donors.filter((donor) => donor.asked !== undefined)
  const rest = [
    ...narrowed.map((donor) => `donors from ${donor.plate}: ${donorSpan(donor)}`),
    ...(shown > MAX_ROWS ? [`the first ${MAX_ROWS} of ${shown}; sheet.html has them all`] : []),
    ...(result.camera ? cameraWords(result).slice(0, 2) : []),
    ...result.warnings.map(withMinus),
  ].join('   ')
  const legendLeft = MARGIN + SIDE
  // Over no pictures they would promise some.
  const headings = shown > 0 ? HEADINGS[result.aim] : []
  const last = HEADINGS[result.aim].at(-1)!
  // Over narrow pictures there is room for the heading alone.
  const fits = textWidth(last, 17) + textWidth(MID_GREY, 14) + GAP <= column - GAP
  const lines: Line[] = [
    { text: fitText(outcome(result), 34, width), x: MARGIN, y: 62, size: 34, grey: 245 },
    { text: fitText(asked, 19, width), x: MARGIN, y: 98, size: 19, grey: 215 },
    { text: fitText(rest, 17, width), x: MARGIN, y: 126, size: 17, grey: 200 },
    ...headings.map((text, k) => {
      return { text, x: legendLeft + k * column, y: HEAD + 22, size: 17, grey: 215 }
    }),
    ...(shown > 0 ? [] : [{ text: nothing(result), x: MARGIN, y: HEAD + 22, size: 19, grey: 245 }]),
    {
      text: shown > 0 && result.aim === 'hide' && fits ? MID_GREY : '',
      x: legendLeft + 4 * column - GAP,
      y: HEAD + 22,
      size: 14,
      grey: 200,
      align: 'end',
    },
  ]
  return { ink: path.ink, lines }
}

/** Where the frames look, in the heading's right corner; how much width it takes. */
function cameraInk(result: Result, right: number): { ink: string; width: number } {
  const path = cameraPath(result, CAMERA)
  if (path === null) return { ink: '', width: 0 }
  const stroke = (d: string | null, colour: string, width: number) =>
    d ? `<path d="${d}" fill="none" stroke="${colour}" stroke-width="${width}" stroke-linecap="round"/>` : ''
  const left = right - path.width
  const drawn = [
    stroke(path.takes, '#888', 0.8),
    stroke(path.frames, '#999', 0.8),
    stroke(path.targets, '#fff', 1.2),
    stroke(path.path, '#bbb', 1),
    stroke(path.blind, '#999', 3),
    stroke(path.seeing, '#fff', 4),
    path.region === null ? '' : `<path d="${path.region}" fill="#fff" fill-opacity="0.55" stroke="#fff"/>`,
  ]
  const ink = `<g transform="translate(${left} ${HEAD - 4 - path.height})">${drawn.join('')}</g>`
  return { ink, width: path.width + GAP }
}

function whyShown({ moment }: Candidate): string {
  if (!moment) return 'its weakest frame'
  return moment.worst === undefined ? 'where its peak lands' : 'where least of it is light'
}

/** A row's outlines and text; whether pieces of its donors are numbered. */
function rowInk(
  row: Row,
  index: number,
  { column, rowHeight, pixelAspect }: Plan,
  result: Result,
): Drawn & { readonly numbered: boolean } {
  const { candidate, rank, shown, rect, outline, pieces } = row
  const top = HEAD + LEGEND + index * rowHeight + GAP
  const { across, scale } = pictureSize(rect, pixelAspect)
  const plate = result.donors[candidate.donor]?.plate ?? ''
  const lines: [text: string, size: number, grey: number, lead: number][] = [
    [`${rank}  ${candidate.id}${candidate.asked ? ', asked for' : ''}`, 26, 245, 30],
    [
      `${VERDICT_MARK[candidate.verdict]} ${candidate.verdict}, score ${scoreFigures(candidate.score)}`,
      19,
      235,
      28,
    ],
    ...wrapText(inWords(candidate), 17, SIDE - 24, 2).map(
      (t) => [t, 17, 215, 22] as [string, number, number, number],
    ),
    [plate, 15, 200, 20],
    [`shown: ${candidate.frames[shown].target}, ${whyShown(candidate)}`, 15, 200, 20],
    ...wrapText(withMinus(candidate.why), 15, SIDE - 24, 3).map(
      (t) => [t, 15, 215, 20] as [string, number, number, number],
    ),
  ]
  let y = top
  const label = lines.map(([text, size, grey, lead]) => {
    y += lead
    return { text: fitText(text, size, SIDE - 24), x: MARGIN, y: y - 4, size, grey }
  })
  const numbersLeft = MARGIN + SIDE + 4 * column + 12
  const outlineLeft = MARGIN + SIDE
  const strokes = (path: string, left: number) =>
    [
      ['0,0,0', 3],
      ['255,255,255', 1.2],
    ].map(
      ([colour, width]) =>
        `<path transform="translate(${left} ${top}) scale(${across} ${scale})" d="${path}" fill="none" ` +
        `stroke="rgb(${colour})" stroke-width="${Number(width) / Math.sqrt(across * scale)}"/>`,
    )
  // Which donor lends where is drawn on the donors' own picture, a number in each piece.
  const donorsLeft = outlineLeft + column
  const borders = pieces.flatMap((area) => strokes(area.outline, donorsLeft))
  const wide = Math.max(...pieces.map(({ frame }) => plaqueWidth(String(frame))))
  const plaques = numbered(pieces, wide / across, PLAQUE_HEIGHT / scale).map(({ frame, x, y }) =>
    plaque(String(frame), donorsLeft + x * across, top + y * scale),
  )
  return {
    ink: [...strokes(outline, outlineLeft), ...borders, ...plaques.map(({ ground }) => ground)].join(''),
    lines: [...plaques.map(({ line }) => line), ...label, ...numbers(row, result, numbersLeft, top)],
    numbered: pieces.length > 0,
  }
}

/** A number on a dark ground, its middle at (x, y). */
function plaque(text: string, x: number, y: number): { ground: string; line: Line } {
  const width = plaqueWidth(text)
  return {
    ground: `<rect x="${x - width / 2}" y="${y - PLAQUE_HEIGHT / 2}" width="${width}" height="${PLAQUE_HEIGHT}" rx="3" fill="#222"/>`,
    line: { text, x: x - width / 2 + 4, y: y + 5.5, size: PLAQUE_LETTERS, grey: 245 },
  }
}

function plaqueWidth(text: string): number {
  return textWidth(text, PLAQUE_LETTERS) + 8
}

/** The measures in two aligned columns; a mark stands before those that keep the candidate from holding up. */
function numbers({ candidate }: Row, result: Result, left: number, top: number): Line[] {
  const entries = measures().map(({ key, label }) => {
    const at = standing(key, candidate, candidate.kind)
    const mark =
      at === 'fails' ? VERDICT_MARK['will not hold'] : at === 'works' ? VERDICT_MARK['needs work'] : ''
    return [mark, label, figures(key, candidate[key])]
  })
  entries.push(['', 'dx', offsetSpan(candidate.frames.map((f) => f.dx))])
  entries.push(['', 'dy', offsetSpan(candidate.frames.map((f) => f.dy))])
  const more = zoomAndRoll(candidate, result)
  if (more !== null) entries.push(['', 'zoom', more.zoom], ['', 'roll', more.roll])
  const size = 16
  const valueRight = left + SIDE - 30
  return entries.flatMap(([mark, label, value], i): Line[] => {
    const y = top + NUMBERS_TOP + i * NUMBERS_LEAD
    return [
      { text: mark, x: left, y, size, grey: 245 },
      { text: label, x: left + 22, y, size, grey: 205 },
      {
        text: fitText(value, size, SIDE - 52 - textWidth(label, size)),
        x: valueRight,
        y,
        size,
        grey: 240,
        align: 'end',
      },
    ]
  })
}
