// The page's own script; everything that only reads works without it.
import './sheet.css'

document.documentElement.classList.add('scripted')
