import fc from 'fast-check'
import { expect, test } from 'vitest'
import type { TrackedFrame } from '../../src/track/frame-tracker.js'
import { readTracked, TRACKED_VERSION, writeTracked } from '../../src/track/written-form.js'

// Of a zero the sign is not kept, which no offset needs.
const double = fc.double({ noNaN: true, noDefaultInfinity: true }).map((v) => v + 0)
const samples = fc.float32Array({ minLength: 12, maxLength: 12 })
const bytes = fc.uint8Array({ minLength: 12, maxLength: 12 })

/** Any frame over 4 x 3 pixels, with or without its exposure and colours. */
const trackedFrame = fc
  .record({
    plate: fc.nat(9),
    frame: fc.nat(),
    pose: fc.record({
      transform: fc.tuple(double, double, double, double, double, double, double, double, double),
      sigma: fc.oneof(double, fc.constant(Number.POSITIVE_INFINITY)),
      still: fc.boolean(),
      earns: fc.boolean(),
    }),
    noise: fc.oneof(double, fc.constant(null)),
    data: samples,
    validity: bytes,
    lit: fc.option(
      fc.record({
        means: fc.array(samples, { minLength: 4, maxLength: 4 }),
        validity: bytes,
        rgb: fc.uint16Array({ minLength: 36, maxLength: 36 }),
      }),
    ),
    print: fc.option(fc.string()),
  })
  .map(({ plate, frame, pose, noise, data, validity, lit, print }): TrackedFrame => {
    return {
      plate,
      frame,
      pose,
      noise,
      seen: { log: { x: 7, y: 9, width: 4, height: 3, data }, validity },
      ...(lit === null ? {} : { lit: { band: { means: lit.means, validity: lit.validity }, rgb: lit.rgb } }),
      ...(print === null ? {} : { print }),
    }
  })

test('a tracked frame comes back as it was written, NaN, infinity and odd lengths too', () => {
  fc.assert(
    fc.property(trackedFrame, (frame) => {
      expect(readTracked(writeTracked(frame))).toEqual(frame)
    }),
  )
})

test('what was written is left as it is, and what is read is a view of it', () => {
  const [frame] = fc.sample(trackedFrame, 1)
  const before = structuredClone(frame)
  const written = writeTracked(frame)
  const { seen } = readTracked(written)
  expect(seen.log.data.buffer).toBe(written.buffer)
  seen.log.data[0] = 0.5
  expect(frame).toEqual(before)
  expect(readTracked(written).seen.log.data[0]).toBe(seen.log.data[0])
})

test('another version, other bytes and a frame that is cut short are refused as that', () => {
  const [frame] = fc.sample(trackedFrame, 1)
  const written = writeTracked(frame)
  const newer = written.slice()
  new DataView(newer.buffer).setUint32(8, TRACKED_VERSION + 1, true)
  expect(() => readTracked(newer)).toThrow(/version 4, and this offcut reads 3/)
  expect(() => readTracked(new Uint8Array(64))).toThrow(/no tracked frame/)
  expect(() => readTracked(written.slice(0, 20))).toThrow(/cut short in its header/)
  expect(() => readTracked(written.slice(0, written.length - 16))).toThrow(/cut short in its arrays/)
})
