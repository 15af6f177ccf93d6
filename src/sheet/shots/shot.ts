// One shot's result as a page over several shows it: what result.json says, and what its sheet has drawn already.
import { readFile } from 'node:fs/promises'
import { basename, dirname, isAbsolute, join, relative, resolve, sep } from 'node:path'
import { pathToFileURL } from 'node:url'
import { OffcutError, printable } from '../../errors.js'
import type { Result } from '../../search/result.js'
import { readResult } from '../../search/result-file.js'
import type { Decision } from '../data/decisions.js'
import { readDecisions } from '../data/decisions-file.js'
import { searchFingerprint } from '../data/fingerprint.js'
import { DATA_ID, type PageData } from '../data/page-data.js'

interface FirstPicture {
  /** data URI */
  readonly uri: string
  readonly w: number
  readonly h: number
}

export interface Shot {
  /** of its folder, from the page's own */
  readonly name: string
  readonly result: Result
  /** address of its sheet, from the page */
  readonly sheet: string
  /** the first candidate's repaired picture; null where there is no candidate */
  readonly picture: FirstPicture | null
  readonly decisions: readonly Decision[]
  /** why a decisions file that lies there is not counted; null: it is, or there is none */
  readonly remark: string | null
}

/**
 * Reads a result's folder. Decisions are those of a decisions.json beside the sheet, else those that the sheet was written with.
 *
 * @param spec the folder, or its result.json
 * @param from the folder that the page will lie in
 * @throws as readResult; SHEET_NOT_FOUND, SHEET_OTHER where its sheet shows another search
 */
export async function readShot(spec: string, from: string): Promise<Shot> {
  const { folder, result } = await readResult(spec)
  const path = join(folder, 'sheet.html')
  const again = `run offcut sheet ${printable(folder)} first`
  const page = await readFile(path, 'utf8').catch((cause) => {
    throw new OffcutError('SHEET_NOT_FOUND', `${printable(path)} is not there: ${again}`, 2, { cause })
  })
  const data = dataIn(page)
  if (data?.search !== searchFingerprint(result)) {
    const problem = `${printable(path)} was not made from the result.json beside it`
    throw new OffcutError('SHEET_OTHER', `${problem}: ${again}`, 2)
  }
  const { decisions, remark } = await decisionsBeside(folder, result, data.decisions)
  return {
    name: relative(from, resolve(folder)) || basename(resolve(folder)),
    ...{ result, decisions, remark },
    sheet: addressOf(resolve(path), from),
    picture: firstPicture(page),
  }
}

/** The folder that all of these folders lie in. One alone lies in its parent. */
export function commonFolder(folders: readonly string[]): string {
  const parents = folders.map((folder) => dirname(resolve(folder)).split(sep))
  let shared = parents[0].length
  for (const parts of parents) {
    let i = 0
    while (i < shared && parts[i] === parents[0][i]) i++
    shared = i
  }
  return parents[0].slice(0, shared).join(sep) || sep
}

function dataIn(page: string): PageData | null {
  const found = new RegExp(`<script id="${DATA_ID}"[^>]*>(.*?)</script>`, 's').exec(page)
  try {
    return found && JSON.parse(found[1])
  } catch {
    return null
  }
}

/** The rows stand in their order, so the first repaired picture is the first candidate's. Anything but a picture is left out. */
function firstPicture(page: string): FirstPicture | null {
  const at = page.indexOf('data-view="repaired"')
  if (at < 0) return null
  const figure = page.slice(at, page.indexOf('</figure>', at))
  const size = /viewBox="0 0 (\d+(?:\.\d+)?) (\d+)"/.exec(figure)
  const file = /href="(data:image\/(?:webp|jpeg|png);base64,[A-Za-z0-9+/=]+)"/.exec(figure)
  return size && file && { uri: file[1], w: Number(size[1]), h: Number(size[2]) }
}

async function decisionsBeside(
  folder: string,
  result: Result,
  written: readonly Decision[],
): Promise<Pick<Shot, 'decisions' | 'remark'>> {
  try {
    return {
      decisions: (await readDecisions(join(folder, 'decisions.json'), result)).decisions,
      remark: null,
    }
  } catch (error) {
    if (!(error instanceof OffcutError)) throw error
    const none = error.code === 'DECISIONS_NOT_FOUND'
    return { decisions: written, remark: none ? null : error.message }
  }
}

/** A relative address, for the file system's separators; on another drive there is none. */
function addressOf(path: string, from: string): string {
  const way = relative(from, path)
  return isAbsolute(way) ? pathToFileURL(path).href : way.split(sep).map(encodeURIComponent).join('/')
}
