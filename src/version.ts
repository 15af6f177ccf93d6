// The version of this package, as its files and its command line say it.
import { readFileSync } from 'node:fs'

let known: string | undefined

/** `0.1.0` */
export function version(): string {
  known ??= (
    JSON.parse(readFileSync(new URL('../package.json', import.meta.url), 'utf8')) as { version: string }
  ).version
  return known
}
