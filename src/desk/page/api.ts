// What the page asks of its server. Every address lies beside the page's own, whose path has the token.
import type { Decisions } from '../../sheet/data/decisions.js'
import type { FolderList, OpenedShot, PatchCommand, ShotSummary } from '../messages.js'
import type { Change, PatchAsked } from '../shot-state.js'

/** The server's own sentence of what was wrong. */
export class Refused extends Error {
  constructor(
    readonly status: number,
    readonly code: string,
    message: string,
  ) {
    super(message)
  }
}

async function asked(path: string, method = 'GET', body?: unknown): Promise<Response> {
  const json = body === undefined ? {} : { headers: { 'content-type': 'application/json' } }
  let response: Response
  try {
    response = await fetch(path, { method, ...json, body: body === undefined ? null : JSON.stringify(body) })
  } catch {
    throw new Refused(0, 'UNREACHED', 'the desk does not answer: see whether its command still runs')
  }
  if (response.ok) return response
  throw await refusal(response)
}

/** What an answer that is no success says. */
export async function refusal(response: Response): Promise<Refused> {
  const text = await response.text()
  try {
    const { error } = JSON.parse(text)
    if (typeof error.message === 'string')
      return new Refused(response.status, String(error.code), error.message)
  } catch {}
  return new Refused(response.status, 'ANSWER', `the desk answered ${response.status}: start it again`)
}

async function json<T>(path: string, method?: string, body?: unknown): Promise<T> {
  return (await asked(path, method, body)).json()
}

/** Of a shot; its parts as they stand in the address. */
function at(shot: string, ...parts: string[]): string {
  return ['shots', shot, ...parts].map(encodeURIComponent).join('/')
}

export const api = {
  shots: () => json<ShotSummary[]>('shots'),
  open: (plate: string) => json<{ name: string }>('shots', 'POST', { plate }),
  shot: (name: string) => json<OpenedShot>(at(name)),
  change: (name: string, change: Change) => json<{ revision: number }>(at(name), 'PATCH', change),
  folders: (path: string | null) =>
    json<FolderList>(path === null ? 'folders' : `folders?at=${encodeURIComponent(path)}`),
  search: (name: string) => json<{ folder: string }>(at(name, 'search'), 'POST', {}),
  stopSearch: (name: string) => asked(at(name, 'search'), 'DELETE'),
  patch: (name: string, search: string, candidate: string) =>
    json<{ folder: string }>(at(name, 'searches', search, 'patch'), 'POST', { candidate }),
  stopPatch: (name: string, search: string) => asked(at(name, 'searches', search, 'patch'), 'DELETE'),
  patchCommand: (name: string, search: string, candidate: string) =>
    json<PatchCommand>(
      `${at(name, 'searches', search, 'patch')}?${new URLSearchParams({ candidate }).toString()}`,
    ),
  decisions: (name: string, search: string) => json<Decisions>(at(name, 'searches', search, 'decisions')),
  decide: (name: string, search: string, decisions: Decisions) =>
    asked(at(name, 'searches', search, 'decisions'), 'PUT', decisions),
}

/** Address of a file below the shot's folder. */
export function fileAddress(shot: string, path: string): string {
  return at(shot, 'files', ...path.split('/'))
}

export interface Tone {
  readonly exposureStops: number
  readonly gamma: number
  readonly look: string | null
}

/** Exposure to a thousandth of a stop: a third has no end. */
function putTone(query: URLSearchParams, { exposureStops, gamma, look }: Tone): void {
  if (exposureStops !== 0) query.set('e', String(Math.round(exposureStops * 1000) / 1000))
  if (gamma !== 1) query.set('g', String(Math.round(gamma * 1000) / 1000))
  if (look !== null) query.set('look', look)
}

/** Address of a frame's picture, at most `w` pixels wide. @param rect plate pixels; null: all of it */
export function frameAddress(
  shot: string,
  plate: number,
  frame: number,
  w: number,
  tone: Tone,
  rect: readonly [number, number, number, number] | null = null,
): string {
  const query = new URLSearchParams({ w: String(w) })
  putTone(query, tone)
  if (rect) for (const [i, name] of ['x', 'y', 'cw', 'ch'].entries()) query.set(name, String(rect[i]))
  return `${at(shot, 'plates', String(plate), 'frames', `${frame}.jpg`)}?${query}`
}

/** Address of what a patch would show on a frame. */
export function previewAddress(
  shot: string,
  search: string,
  candidate: string,
  frame: number,
  w: number,
  patch: PatchAsked,
  tone: Tone,
): string {
  const query = new URLSearchParams({
    candidate,
    frame: String(frame),
    w: String(w),
    q: JSON.stringify(patch),
  })
  putTone(query, tone)
  return `${at(shot, 'searches', search, 'preview.jpg')}?${query}`
}
