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
import { config } from 'zod'
import { App } from './app.js'
import { listenToKeys } from './keys.js'
import { follow, listen } from './live.js'

// The page's policy lets nothing be compiled from text, and checking by trial would show in the console.
config({ jitless: true })

document.documentElement.classList.add('scripted')
const room = document.createElement('div')
room.id = 'desk'
document.body.append(room)
render(<App />, room)
listen()
listenToKeys()
addEventListener('hashchange', () => void follow())
void follow()
