// The desk's page: everything it shows comes from the server it was loaded from.
import '../../sheet/page/base.css'
import '../../sheet/page/viewer/viewer.css'
import '../../sheet/page/closer.css'
import './desk.css'
import './picture.css'
import './strip.css'
import './panel.css'
import './fields.css'
import './candidates.css'
import './runs.css'
import './picker.css'
import { render } from 'preact'
import { App } from './app.js'
import { listenToKeys } from './keys.js'
import { begin, follow, listen } from './live.js'

document.documentElement.classList.add('scripted')
const room = document.createElement('div')
room.id = 'desk'
document.body.append(room)
begin()
render(<App />, room)
listen()
listenToKeys()
addEventListener('hashchange', () => void follow())
