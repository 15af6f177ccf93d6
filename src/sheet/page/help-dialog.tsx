// The list of keys over the page itself.
import { useLayoutEffect, useRef, useState } from 'preact/hooks'
import { Help } from './help.js'

export function HelpDialog({ bind }: { bind: (show: () => void) => void }) {
  const [shown, setShown] = useState(false)
  const dialog = useRef<HTMLDialogElement>(null)
  // Before the first paint: a key may come right after it.
  useLayoutEffect(() => bind(() => setShown(true)), [])
  // Likewise: with the list up no letter may sign anything.
  useLayoutEffect(() => {
    if (shown) dialog.current!.showModal()
    else dialog.current!.close()
  }, [shown])
  return (
    <dialog class="help-dialog" ref={dialog} aria-labelledby="help-name" onClose={() => setShown(false)}>
      {shown ? <Help onClose={() => setShown(false)} /> : null}
    </dialog>
  )
}
