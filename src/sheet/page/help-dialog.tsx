// The list of keys over the page itself.
import { useEffect, useRef, useState } from 'preact/hooks'
import { Help } from './help.js'

export function HelpDialog({ bind }: { bind: (show: () => void) => void }) {
  const [shown, setShown] = useState(false)
  const dialog = useRef<HTMLDialogElement>(null)
  useEffect(() => bind(() => setShown(true)), [])
  useEffect(() => {
    if (shown) dialog.current!.showModal()
    else dialog.current!.close()
  }, [shown])
  return (
    <dialog class="help-dialog" ref={dialog} aria-labelledby="help-name" onClose={() => setShown(false)}>
      {shown ? <Help onClose={() => setShown(false)} /> : null}
    </dialog>
  )
}
