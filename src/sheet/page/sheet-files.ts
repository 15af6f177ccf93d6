// The blocks of data in the page: what it shows, and the viewer's pictures as files.
import { DATA_ID, framesId, type PageData, TARGETS_ID, WHOLES_ID } from '../data/page-data.js'
import type { ViewerFiles } from './viewer/viewer-data.js'

/** @param sheet the page itself, or one that was fetched and parsed. @throws where it has no such block */
export function readData(sheet: Document = document): PageData {
  return JSON.parse(sheet.getElementById(DATA_ID)!.textContent!)
}

export function filesOf(data: PageData, sheet: Document = document): ViewerFiles {
  const blocks = new Map<string, string[]>()
  const file = (id: string, index: number): Blob => {
    let files = blocks.get(id)
    if (!files) {
      files = sheet.getElementById(id)!.textContent!.trim().split('\n')
      blocks.set(id, files)
    }
    return blobOf(files[index])
  }
  return {
    target: (at) => file(TARGETS_ID, at),
    lent: (way, frame) => file(framesId(way), frame),
    support: (mask) => blobOf(data.masks[mask].support.split(',')[1]),
    whole: (index) => file(WHOLES_ID, index),
  }
}

function blobOf(base64: string): Blob {
  return new Blob([Uint8Array.from(atob(base64), (c) => c.charCodeAt(0))], { type: typeOf(base64) })
}

/** The first letters of a file in base64 tell what it is: JPEG, PNG or else WebP. */
function typeOf(base64: string): string {
  if (base64.startsWith('/9j/')) return 'image/jpeg'
  return base64.startsWith('iVBOR') ? 'image/png' : 'image/webp'
}
