/** The frame around every view: what it is of, whether it is live, where one can go, and the view itself. */
import type { ComponentType } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import { toProblem, type ApiProblem } from '../data/api-client.js';
import { isLoginNeeded, roleNotice } from '../data/session.js';
import { site } from '../data/plant.js';
import { ProblemNote } from '../parts/problem-note.js';
import { pathParts, query } from '../router.js';
import type { ScreenProps, View } from '../view.js';
import { VIEWS } from '../views.js';
import { LoginForm } from './login-form.js';
import { Navigation } from './navigation.js';
import { StatusBar } from './status-bar.js';

function findView(parts: readonly string[]): View | null {
  const segment = parts[0] ?? '';
  return VIEWS.find((view) => view.segment === segment) ?? null;
}

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
        (error: unknown) => isWanted && setLoaded({ view, screen: toProblem(error) }),
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

export function Shell() {
  const view = findView(pathParts.value);
  const stage = useRef<HTMLElement>(null);
  const isFirst = useRef(true);
  useEffect(() => {
    document.title = [view?.title ?? 'Nothing here', site.value, 'Tallypost']
      .filter((part) => part !== '')
      .join(' · ');
  }, [view, site.value]);
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
      <Navigation current={view?.segment ?? null} />
      <main id="stage" ref={stage} tabIndex={-1}>
        {roleNotice.value !== '' && (
          <p class="todo" role="status">
            {roleNotice.value}
          </p>
        )}
        {isLoginNeeded.value ? <LoginForm /> : <Stage view={view} />}
      </main>
    </>
  );
}
