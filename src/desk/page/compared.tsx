// The target beside the donor frame that lends to it: the place of the region, as shot, no light matched.
import { useSignalEffect } from '@preact/signals'
import { useLayoutEffect, useRef } from 'preact/hooks'
import { frameAddress } from './api.js'
import { covered } from './handles.js'
import { arrivals, donor, pictures, plateSize, tone } from './looking.js'
import { resultOf } from './results.js'
import { frame, search, shotName, state } from './state.js'
import { targets } from './target-range.js'

/** Of the region's sides, shown round it. */
const ROUND = 0.35

/** Plate pixels round the region; null where nothing tells where it lies. */
function place(): readonly [number, number, number, number] | null {
  const run = search.value
  const box =
    (run && resultOf(run.folder)?.region.box) ?? covered(state.value?.asked.region.shapes ?? [], frame.value)
  if (!box) return null
  const { width, height } = plateSize.value
  const [x, y, w, h] = box
  const more = Math.ceil(ROUND * Math.max(w, h, 32))
  const [left, top] = [Math.max(0, Math.floor(x - more)), Math.max(0, Math.floor(y - more))]
  const right = Math.min(width, Math.ceil(x + w + more))
  const bottom = Math.min(height, Math.ceil(y + h + more))
  return right > left && bottom > top ? [left, top, right - left, bottom - top] : null
}

/** Wide enough for the panel on any screen, pixels. */
const MAX_PX = 640

type Rectangle = readonly [x: number, y: number, w: number, h: number]

interface CropOf {
  readonly address: string
  /** Plate pixels. */
  readonly where: Rectangle
}

/** The two pictures; null where there is no donor, or no place. */
function pair(): readonly [CropOf, CropOf] | null {
  const [where, lender, shot] = [place(), donor.value, shotName.value]
  if (!where || !lender || shot === null) return null
  const w = Math.min(where[2], MAX_PX)
  const there = moved(where, lender.dx, lender.dy)
  return [
    { address: frameAddress(shot, 0, frame.value, w, tone.value, where), where },
    { address: frameAddress(shot, lender.plate, lender.donor, w, tone.value, there), where: there },
  ]
}

export function Compared() {
  useSignalEffect(() => pictures.want('compared', pair()?.map(({ address }) => address) ?? []))
  const both = pair()
  if (!both) {
    return (
      <p class="note">
        {targets.value.includes(frame.value)
          ? `Nothing lends to frame ${frame.value} so far.`
          : 'Go to a frame of the target range to see its donor beside it.'}
      </p>
    )
  }
  return (
    <div class="compared">
      <Crop address={both[0].address} name={`Target ${frame.value}`} where={both[0].where} />
      <Crop address={both[1].address} name={donorName(donor.value!)} where={both[1].where} />
    </div>
  )
}

/** A donor alone may show what another one covers: it says that it is one of several. */
function donorName({ donor: number, stack, pieces }: NonNullable<typeof donor.value>): string {
  const lenders = (stack ?? pieces ?? []).length
  return lenders > 1 ? `Donor ${number}, one of ${lenders}` : `Donor ${number}`
}

/** To the nearest pixel: it is for the eye. */
function moved(
  [x, y, w, h]: readonly [number, number, number, number],
  dx: number,
  dy: number,
): readonly [number, number, number, number] {
  const { width, height } = plateSize.value
  const within = (at: number, side: number, all: number) => Math.min(all - side, Math.max(0, at))
  return [within(Math.round(x - dx), w, width), within(Math.round(y - dy), h, height), w, h]
}

function Crop({ address, name, where }: CropOf & { name: string }) {
  const canvas = useRef<HTMLCanvasElement>(null)
  const come = arrivals.value > 0 ? pictures.get(address) : null
  useLayoutEffect(() => {
    if (!come || !canvas.current) return
    const [x, y, w, h] = where
    // What came may show a little more than was asked for.
    const [left, top, wide, high] = come.rect ?? where
    const dense = come.bitmap.width / wide
    canvas.current.width = Math.round(w * dense)
    canvas.current.height = Math.round(h * dense)
    canvas.current
      .getContext('2d')!
      .drawImage(come.bitmap, (left - x) * dense, (top - y) * dense, wide * dense, high * dense)
  }, [come])
  return (
    <figure>
      <canvas ref={canvas} role="img" aria-label={name} width={where[2]} height={where[3]} />
      <figcaption>{name}</figcaption>
    </figure>
  )
}
