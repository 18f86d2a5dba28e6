/** The page: signals begin to live, and the shell is drawn. */
import { effect } from '@preact/signals';
import { render } from 'preact';
import { startClock } from './data/clock.js';
import { followPlant, watchLink } from './data/live-link.js';
import { isWall } from './data/session.js';
import { followAddress, pathParts } from './router.js';
import { followArrivals } from './shell/arrivals.js';
import { resumeSession } from './shell/login.js';
import { Shell } from './shell/shell.js';
import { applyTheme } from './shell/theme.js';
import { VIEWS } from './views.js';
import './styles/tokens.css';
import './styles/base.css';
import './styles/controls.css';
import './styles/shell.css';

applyTheme();
followAddress();
startClock();
watchLink();
followPlant();
followArrivals();
effect(() => {
  isWall.value = VIEWS.some(
    ({ segment, place }) => segment === (pathParts.value[0] ?? '') && place === 'bare',
  );
});
void resumeSession();
// its file is fetched while the shell is drawn, not after
void VIEWS.find(({ segment }) => segment === (pathParts.value[0] ?? ''))?.load();
const root = document.getElementById('page');
if (root === null) throw new Error('index.html has no #page');
render(<Shell />, root);
