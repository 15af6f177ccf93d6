// A command as it can be typed, to be copied.
import { useState } from 'preact/hooks'

export function Command({ command, name }: { command: string | null; name: string }) {
  const [copied, setCopied] = useState<string | null>(null)
  if (command === null) return null
  const copy = async () => {
    try {
      await navigator.clipboard.writeText(command)
      setCopied(command)
    } catch {
      setCopied(null)
    }
  }
  return (
    <section class="command" aria-label={name}>
      <div class="line">
        <h3>{name}</h3>
        <button type="button" class="small" onClick={copy}>
          {copied === command ? 'Copied' : 'Copy'}
        </button>
      </div>
      <pre>
        <code>{command}</code>
      </pre>
    </section>
  )
}
