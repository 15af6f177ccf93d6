// The script of a patch's check page: target and result in turn, in one place. Everything else works without it.
// In this order: widths override what is common.
import './base.css'
import './top.css'
import './rows.css'
import './widths.css'
import './check.css'
import { FLIP_MS } from './viewer/look.js'

document.documentElement.classList.add('scripted')
const still = matchMedia('(prefers-reduced-motion: reduce)')
let stop = () => {}

/** One frame flips at a time. Who wants no motion flips by hand: each press shows the other. */
for (const button of document.querySelectorAll<HTMLButtonElement>('[data-flip]')) {
  const frame = button.closest('article')!
  const [target, result] = ['target', 'result'].map(
    (what) => frame.querySelector(`[data-shows="${what}"] image`)!,
  )
  const caption = frame.querySelector('[data-shows="result"] [data-name]')!
  const files = { target: target.getAttribute('href')!, result: result.getAttribute('href')! }
  const show = (what: 'target' | 'result') => {
    result.setAttribute('href', files[what])
    caption.textContent = what
  }
  const turn = () => show(caption.textContent === 'result' ? 'target' : 'result')
  button.addEventListener('click', () => {
    const pressed = button.getAttribute('aria-pressed') === 'true'
    stop()
    if (still.matches) {
      turn()
      button.setAttribute('aria-pressed', String(caption.textContent === 'target'))
      return
    }
    if (pressed) return
    const timer = setInterval(turn, FLIP_MS)
    button.setAttribute('aria-pressed', 'true')
    stop = () => {
      clearInterval(timer)
      show('result')
      button.setAttribute('aria-pressed', 'false')
      stop = () => {}
    }
  })
}
