// The whole static set, painted from back to front.
import { Canvas } from './canvas.js'
import { bollards, boxes, contactShade, lemons, mooringRing, rope } from './clutter.js'
import { chimney, farShore, masts, sky } from './distance.js'
import { cornerStones, drainpipe, eaves, lifebuoy, windowLayer } from './fittings.js'
import { awning, kioskBody, kioskSign } from './kiosk.js'
import { coping, paving, quayFace, waterBed } from './quay.js'
import { shutterFrame, shutterLayer } from './shutter.js'
import { wallLayer } from './wall.js'

/**
 * Paints everything that never moves.
 *
 * @param width  and height of the plate in pixels
 */
export function paintBackground(seed: number, width: number, height: number): Canvas {
  const canvas = new Canvas(width, height)
  const layers = [
    sky(seed),
    farShore(seed),
    chimney(seed),
    masts(),
    wallLayer(seed),
    windowLayer(seed),
    cornerStones(seed),
    shutterLayer(seed),
    shutterFrame(seed),
    lifebuoy(seed),
    drainpipe(seed),
    eaves(seed),
    paving(seed),
    boxes(seed),
    coping(seed),
    quayFace(seed),
    waterBed(),
    contactShade(),
    mooringRing(),
    kioskBody(seed),
    awning(seed),
    kioskSign(seed),
    lemons(seed),
    bollards(seed),
    rope(seed),
  ]
  for (const layer of layers) canvas.paint(layer)
  return canvas
}
