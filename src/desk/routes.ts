// What the page may ask for: everything that comes in is checked here, and answered by the part that knows.
import { join } from 'node:path'
import { Hono } from 'hono'
import { bodyLimit } from 'hono/body-limit'
import * as z from 'zod'
import type { Rect } from '../raster/rect.js'
import { deskAssets } from './assets.js'
import { typed } from './command-line.js'
import { decide, decisionsOf } from './decided.js'
import type { Desk } from './desk.js'
import { fileAnswer } from './files.js'
import { AHEAD_HEADER, type PatchCommand, RECT_HEADER } from './messages.js'
import { checked, failure, notFound, Refused } from './refused.js'
import { searchIn } from './runs.js'
import { changeSchema, shotStateSchema } from './shot-state.js'

/** The largest change: a brush has many points. */
const MAX_BODY = 16 * 2 ** 20

const count = z
  .string()
  .regex(/^\d{1,6}$/)
  .transform(Number)
const number = z
  .string()
  .regex(/^-?\d{1,6}(\.\d{1,12})?$/)
  .transform(Number)
const frameFile = z
  .string()
  .regex(/^-?\d{1,15}\.jpg$/)
  .transform((name) => Number(name.slice(0, -4)))
const look = z.string().min(1).max(4096).optional()

const shownQuery = {
  w: count.pipe(z.number().min(1).max(16384)).optional(),
  e: number.pipe(z.number().min(-20).max(20)).default(0),
  g: number.pipe(z.number().min(0.1).max(10)).default(1),
  look,
}
const frameQuery = z
  .strictObject({
    ...shownQuery,
    x: count.optional(),
    y: count.optional(),
    cw: count.optional(),
    ch: count.optional(),
  })
  .refine(({ x, y, cw, ch }) => new Set([x, y, cw, ch].map((v) => v === undefined)).size === 1, {
    message: 'a rectangle is x, y, cw and ch, all four',
  })

const previewQuery = z.strictObject({
  ...shownQuery,
  candidate: z.string().min(1).max(200),
  frame: z
    .string()
    .regex(/^-?\d{1,15}$/)
    .transform(Number),
  q: z
    .string()
    .max(4096)
    .transform((text, context) => {
      try {
        return JSON.parse(text)
      } catch {
        context.addIssue({ code: 'custom', message: 'settings of a patch as JSON' })
        return z.NEVER
      }
    })
    .pipe(shotStateSchema.shape.patch)
    .optional(),
})

const newShotBody = z.strictObject({ plate: z.string().min(1).max(4096) })
const candidateSchema = z.strictObject({ candidate: z.string().min(1).max(200) })
const foldersQuery = z.strictObject({ at: z.string().min(1).max(4096).optional() })

/** Routes below the token. */
export function routesOf(desk: Desk): Hono {
  const app = new Hono()
  const { shots, events, pictures, folders, runs } = desk
  app.onError((error, c) => failure(c, error))
  app.notFound((c) => failure(c, notFound('there is nothing here')))
  const tooLarge = () => {
    throw new Refused(413, 'TOO_LARGE', `a change may have ${MAX_BODY} bytes at most`)
  }
  app.use(bodyLimit({ maxSize: MAX_BODY, onError: tooLarge }))

  app.get('/page.js', async () => text((await deskAssets()).script, 'text/javascript'))
  app.get('/page.css', async () => text((await deskAssets()).style, 'text/css'))
  app.get('/events', (c) => {
    const stream = events.stream(desk.known(), c.req.raw.signal)
    return new Response(stream, {
      headers: { 'Content-Type': 'text/event-stream', 'X-Accel-Buffering': 'no' },
    })
  })
  app.get('/folders', async (c) => {
    const { at } = checked(foldersQuery, c.req.query(), 'the query')
    return c.json(await folders.list(at))
  })

  app.get('/shots', (c) => c.json(shots.list()))
  app.post('/shots', async (c) => {
    const { plate } = checked(newShotBody, await bodyOf(c.req.raw), 'the body')
    return c.json({ name: (await shots.add(plate)).name })
  })
  app.get('/shots/:name', async (c) => c.json(await desk.open(c.req.param('name'))))
  app.patch('/shots/:name', async (c) => {
    const change = checked(changeSchema, await bodyOf(c.req.raw), 'the change')
    return c.json({ revision: await desk.change(c.req.param('name'), change) })
  })
  app.get('/shots/:name/plates/:plate/frames/:frame', async (c) => {
    const at = checked(count, c.req.param('plate'), 'the number of the plate')
    const frame = checked(frameFile, c.req.param('frame'), 'the frame')
    const { w = null, e, g, look = null, x, y, cw, ch } = checked(frameQuery, c.req.query(), 'the query')
    const plate = await shots.get(c.req.param('name')).plateAt(at)
    const rect = x === undefined ? null : { x, y: y!, w: cw!, h: ch! }
    const shown = { width: w, exposureStops: e, gamma: g, look }
    const asked = { plate, frame, rect, shown }
    const { signal } = c.req.raw
    const ahead = c.req.header(AHEAD_HEADER) !== undefined
    const made = await (ahead ? pictures.jpeg(asked, 'soon', signal) : pictures.lookedAt(asked, signal))
    return image(made.bytes, 'jpg', made.rect)
  })
  app.post('/shots/:name/search', async (c) =>
    c.json({ folder: await runs.search(shots.get(c.req.param('name'))) }),
  )
  app.delete('/shots/:name/search', async (c) => {
    await runs.stopSearch(shots.get(c.req.param('name')))
    return c.json({})
  })
  app.get('/shots/:name/searches/:search/patch', async (c) => {
    const { candidate } = checked(candidateSchema, c.req.query(), 'the query')
    const shot = shots.get(c.req.param('name'))
    const { args } = await runs.patchCommand(shot, c.req.param('search'), candidate)
    return c.json({ command: typed(args, runs.here) } satisfies PatchCommand)
  })
  app.post('/shots/:name/searches/:search/patch', async (c) => {
    const { candidate } = checked(candidateSchema, await bodyOf(c.req.raw), 'the body')
    return c.json({
      folder: await runs.patch(shots.get(c.req.param('name')), c.req.param('search'), candidate),
    })
  })
  app.delete('/shots/:name/searches/:search/patch', async (c) => {
    await runs.stopPatch(shots.get(c.req.param('name')), c.req.param('search'))
    return c.json({})
  })
  const resultOf = (name: string, search: string) => {
    const shot = shots.get(name)
    return join(shot.folder, searchIn(shot, search).folder)
  }
  app.get('/shots/:name/searches/:search/:file{preview\\.(?:jpg|png)}', async (c) => {
    const folder = resultOf(c.req.param('name'), c.req.param('search'))
    const {
      candidate,
      frame,
      q,
      w = null,
      e,
      g,
      look = null,
    } = checked(previewQuery, c.req.query(), 'the query')
    const asked = q === undefined ? shots.get(c.req.param('name')).state.patch : q
    const format = c.req.param('file').endsWith('png') ? 'png' : 'jpg'
    const shown = { width: w, exposureStops: e, gamma: g, look }
    const task = { folder, candidate, frame, patch: asked, shown, format } as const
    const { rect, bytes } = await desk.previews.draw(task, c.req.raw.signal)
    return image(bytes, format, rect)
  })
  app.get('/shots/:name/searches/:search/decisions', async (c) =>
    c.json(await decisionsOf(resultOf(c.req.param('name'), c.req.param('search')))),
  )
  app.put('/shots/:name/searches/:search/decisions', async (c) => {
    const folder = resultOf(c.req.param('name'), c.req.param('search'))
    await decide(folder, await bodyOf(c.req.raw))
    return c.json({})
  })
  app.get('/shots/:name/files/*', async (c) => {
    const shot = shots.get(c.req.param('name'))
    const [, path = ''] = /^\/[^/]+\/shots\/[^/]+\/files\/(.*)$/.exec(c.req.path) ?? []
    return fileAnswer(shot.folder, decoded(path))
  })
  return app
}

function text(body: string, type: string): Response {
  return new Response(body, { headers: { 'Content-Type': `${type}; charset=utf-8` } })
}

/** @param rect pixels of the plate that it shows */
function image(bytes: Uint8Array, format: 'jpg' | 'png', { x, y, w, h }: Rect): Response {
  const type = format === 'png' ? 'image/png' : 'image/jpeg'
  return new Response(bytes as Uint8Array<ArrayBuffer>, {
    headers: { 'Content-Type': type, [RECT_HEADER]: `${x},${y},${w},${h}` },
  })
}

/** @throws Refused 400 where it is no JSON, or does not say that it is */
async function bodyOf(request: Request): Promise<unknown> {
  // What a form on another page can send is no JSON by name.
  if (!/^application\/json\b/.test(request.headers.get('content-type') ?? ''))
    throw new Refused(400, 'MISUSE', 'the body must be sent as application/json')
  try {
    return await request.json()
  } catch (cause) {
    if (cause instanceof Refused) throw cause
    throw new Refused(400, 'MISUSE', 'the body is no JSON')
  }
}

/** @throws Refused 404 where it is no text */
function decoded(path: string): string {
  try {
    return decodeURIComponent(path)
  } catch {
    throw notFound('there is no such file in the shot')
  }
}
