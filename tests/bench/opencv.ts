// The Python beside this that has OpenCV with OpenEXR in it, where there is one.
import { spawnSync } from 'node:child_process'
import { join } from 'node:path'

export const INSTALL = "install Debian's python3-opencv, or another Python with cv2 built with OpenEXR"

/** The first Python that can do this; undefined where none can. */
export function pythonThat(...args: string[]): string | undefined {
  return ['/usr/bin/python3', 'python3'].find((python) => scripted(python, ...args) !== null)
}

/** What opencv-exr.py prints; null where it fails. */
export function scripted(python: string, ...args: string[]): string | null {
  // The launcher runs in the project's top folder and names the bench's folder to us by its own place.
  const script = join(process.argv[1], '..', 'opencv-exr.py')
  const { status, stdout } = spawnSync(python, [script, ...args], { encoding: 'utf8' })
  return status === 0 ? stdout : null
}
