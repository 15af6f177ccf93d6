// The content security policy of every page that offcut writes.
import { createHash } from 'node:crypto'

/**
 * Nothing may be fetched, nothing may run but the page's own script, nothing may be sent.
 *
 * @param script null: the page has none
 */
export function policy(script: string | null, style: string): string {
  const hash = (text: string) => `'sha256-${createHash('sha256').update(text).digest('base64')}'`
  return [
    "default-src 'none'",
    'img-src data: blob:',
    `style-src ${hash(style)}`,
    `script-src ${script === null ? "'none'" : hash(script)}`,
    "base-uri 'none'",
    "form-action 'none'",
  ].join('; ')
}
