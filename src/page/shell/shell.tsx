/** The frame around every view: what it is of, whether it is live, where one can go, and the view itself. */
import type { ComponentType } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import { ApiProblem } from '../data/api-client.js';
import { isLoginNeeded, loginReason, loginTurn, roleNotice } from '../data/session.js';
import { isLost } from '../data/live-link.js';
import { site } from '../data/plant.js';
import { ProblemNote } from '../parts/problem-note.js';
import { heardNews } from '../parts/heard-news.js';
import { waitingAlarms } from '../parts/waiting-alarms.js';
import { address, pathParts, query } from '../router.js';
import type { ScreenProps, View } from '../view.js';
import { VIEWS } from '../views.js';
import { LoginForm } from './login-form.js';
import { Navigation } from './navigation.js';
import { StatusBar } from './status-bar.js';
import { titleOf } from './window-title.js';

function findView(parts: readonly string[]): View | null {
  const segment = parts[0] ?? '';
  return VIEWS.find((view) => view.segment === segment) ?? null;
}

/** The gateway was updated since the page was opened, say: the files of that page are there no longer. */
const UNFETCHED = new ApiProblem(
  0,
  'This view could not be fetched',
  'The gateway does not answer, or was updated since this page was opened.',
  'Load the page again.',
  '',
  [],
);

/** The screen of a view once its file is there; a problem when it cannot be fetched. */
function useScreen(view: View | null): ComponentType<ScreenProps> | ApiProblem | null {
  const [loaded, setLoaded] = useState<{
    view: View;
    screen: ComponentType<ScreenProps> | ApiProblem;
  } | null>(null);
  useEffect(() => {
    let isWanted = true;
    if (view !== null) {
      view.load().then(
        (screen) => isWanted && setLoaded({ view, screen }),
        () => isWanted && setLoaded({ view, screen: UNFETCHED }),
      );
    }
    return () => {
      isWanted = false;
    };
  }, [view]);
  return loaded !== null && loaded.view === view ? loaded.screen : null;
}

function Missing() {
  return (
    <>
      <h1>Nothing here</h1>
      <p>
        The page has no view at this address. <a href="/">Go to what needs an answer now</a>.
      </p>
    </>
  );
}

function Stage({ view }: { view: View | null }) {
  const screen = useScreen(view);
  if (view === null) return <Missing />;
  if (screen === null) return <p class="quiet">Opening…</p>;
  if (typeof screen !== 'function') return <ProblemNote problem={screen} />;
  const Screen = screen;
  return <Screen rest={pathParts.value.slice(1)} query={query.value} />;
}

/** A wall has no keyboard: what is missing is said to whoever sets it up. */
function WallRefused() {
  return (
    <main class="wall-refused">
      <h1>This gateway asks for a login</h1>
      <p>
        A screen on the wall can do without when the configuration says{' '}
        <code>
          http: {'{'} kiosk: true {'}'}
        </code>
        .
      </p>
    </main>
  );
}

/** Heard only: what is new, each sentence for itself. */
function News() {
  return (
    <div class="only-heard" aria-live="polite">
      {heardNews.value.map(({ number, text }) => (
        <p key={number}>{text}</p>
      ))}
    </div>
  );
}

export function Shell() {
  const view = findView(pathParts.value);
  const stage = useRef<HTMLElement>(null);
  const isFirst = useRef(true);
  const title = titleOf({
    ...{ view: view?.title ?? 'Nothing here', site: site.value, waiting: waitingAlarms.value.length },
    state: isLoginNeeded.value ? 'login' : isLost.value ? 'lost' : 'there',
  });
  useEffect(() => {
    document.title = title;
  }, [title]);
  const { path } = address.value;
  useEffect(() => {
    // within a view: only where what was pressed is gone
    if (document.activeElement === document.body && !isFirst.current) stage.current?.focus();
  }, [path]);
  useEffect(() => {
    // a reader by keyboard or by ear lands in the view that was opened, not in the navigation
    if (!isFirst.current) stage.current?.focus();
    isFirst.current = false;
  }, [view]);
  if (view?.place === 'bare') return isLoginNeeded.value ? <WallRefused /> : <Stage view={view} />;
  return (
    <>
      <a class="skip" href="#stage">
        Skip to the view
      </a>
      <StatusBar />
      <News />
      <Navigation current={view?.segment ?? null} />
      <main id="stage" ref={stage} tabIndex={-1}>
        {roleNotice.value !== '' && (
          <p class="todo" role="status">
            {roleNotice.value}
          </p>
        )}
        {isLoginNeeded.value && <LoginForm />}
        {/* a login that ended takes nothing away: the view waits behind it, with what was being written */}
        {(!isLoginNeeded.value || loginReason.value !== '') && (
          <div class="kept-view" key={loginTurn.value} hidden={isLoginNeeded.value}>
            <Stage view={view} />
          </div>
        )}
      </main>
    </>
  );
}
