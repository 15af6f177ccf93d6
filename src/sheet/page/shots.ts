// The style of the page over several shots, which has no script: what is left of this file by the build is not used.
// In this order: paper overrides the screen.
import './base.css'
import './top.css'
import './rows.css'
import './shots.css'
import './print.css'
