// OpenCV as an outside reference, in WebAssembly so that every machine has it: @techstark/opencv-js.
import { createRequire } from 'node:module'

/** The few parts of the library that the tests call; its own types cover neither masks nor start-up. */
export interface Mat {
  readonly rows: number
  readonly cols: number
  readonly data: Uint8Array
  readonly data32F: Float32Array
  readonly data64F: Float64Array
  delete(): void
}

export interface OpenCv {
  readonly CV_32FC1: number
  readonly CV_64FC1: number
  readonly CV_64FC2: number
  readonly TM_CCOEFF_NORMED: number
  readonly Mat: new (rows?: number, cols?: number, type?: number) => Mat
  matchTemplate(image: Mat, template: Mat, result: Mat, method: number, mask: Mat): void
  perspectiveTransform(points: Mat, out: Mat, transform: Mat): void
  getBuildInformation(): string
}

let loading: Promise<OpenCv> | undefined

export function loadOpenCv(): Promise<OpenCv> {
  loading ??= start()
  return loading
}

async function start(): Promise<OpenCv> {
  const module = createRequire(import.meta.url)('@techstark/opencv-js') as OpenCv & {
    onRuntimeInitialized?: () => void
  }
  if (module.Mat === undefined) {
    await new Promise<void>((ready) => {
      module.onRuntimeInitialized = ready
    })
  }
  // This build's module is a thenable that answers with itself, which no `await` ever comes back from.
  const { then: _, ...cv } = module as OpenCv & { then?: unknown }
  return cv
}

/** A float32 matrix that the caller deletes. */
export function matOf(cv: OpenCv, width: number, height: number, samples: ArrayLike<number>): Mat {
  const mat = new cv.Mat(height, width, cv.CV_32FC1)
  mat.data32F.set(samples)
  return mat
}

/**
 * OpenCV's masked TM_CCOEFF_NORMED at every whole-pixel place of the template in the image.
 *
 * @param image    row-major, `imageWidth` wide
 * @param template row-major, `width` by `height`
 * @param mask     as large as the template; 0 leaves a pixel out
 * @returns [imageHeight - height + 1, imageWidth - width + 1], row-major, as OpenCV gives it: NaN and infinity included
 */
export function maskedCoefficients(
  cv: OpenCv,
  image: { width: number; height: number; data: ArrayLike<number> },
  template: { width: number; height: number; data: ArrayLike<number> },
  mask: ArrayLike<number>,
): { width: number; height: number; data: Float32Array } {
  const a = matOf(cv, image.width, image.height, image.data)
  const b = matOf(cv, template.width, template.height, template.data)
  const m = matOf(cv, template.width, template.height, mask)
  const out = new cv.Mat()
  try {
    cv.matchTemplate(a, b, out, cv.TM_CCOEFF_NORMED, m)
    return { width: out.cols, height: out.rows, data: Float32Array.from(out.data32F) }
  } finally {
    for (const mat of [a, b, m, out]) mat.delete()
  }
}

/**
 * Where OpenCV's perspectiveTransform puts points.
 *
 * @param transform 3 x 3, row-major
 * @param points    x and y in turn
 */
export function perspectivePoints(
  cv: OpenCv,
  transform: ArrayLike<number>,
  points: ArrayLike<number>,
): Float64Array {
  const t = new cv.Mat(3, 3, cv.CV_64FC1)
  const from = new cv.Mat(points.length / 2, 1, cv.CV_64FC2)
  const to = new cv.Mat()
  try {
    t.data64F.set(transform)
    from.data64F.set(points)
    cv.perspectiveTransform(from, to, t)
    return Float64Array.from(to.data64F)
  } finally {
    for (const mat of [t, from, to]) mat.delete()
  }
}
