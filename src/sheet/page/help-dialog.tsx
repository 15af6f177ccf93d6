// The list of keys over the page itself.
import { useLayoutEffect, useRef, useState } from 'preact/hooks'
import { ROW_KEYS } from './row-keys.js'
import { Help, type KeyList } from './viewer/help.js'
import { LOOK_KEYS } from './viewer/keys.js'

/** Every key of the page. */
export const ALL_KEYS: readonly KeyList[] = [
  { name: 'Among the candidates', keys: ROW_KEYS },
  { name: 'Looking closer', keys: LOOK_KEYS },
]

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
      {shown ? <Help lists={ALL_KEYS} onClose={() => setShown(false)} /> : null}
    </dialog>
  )
}
