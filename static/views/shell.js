/** The app around the screens: moves between them without leaving the page. */
import {useEffect, useState} from 'preact/hooks';
import {AppContext} from './app_context.js';
import {html} from './html.js';
import {routeFor} from './routes.js';

/** @param {{app: object}} props everything of the app but `go` */
export function Shell({app}) {
  const [path, setPath] = useState(location.pathname);

  function go(to) {
    history.pushState(null, '', to);
    setPath(to);
  }
  useEffect(() => {
    const back = () => setPath(location.pathname);
    const click = (event) => {
      const to = innerPath(event);
      if (!to) return;
      event.preventDefault();
      go(to);
    };
    window.addEventListener('popstate', back);
    document.addEventListener('click', click);
    return () => {
      window.removeEventListener('popstate', back);
      document.removeEventListener('click', click);
    };
  }, []);

  const {screen: Screen, params} = routeFor(path);
  return html`<${AppContext.Provider} value=${{...app, go}}><${Screen} key=${path} ...${params} /><//>`;
}

/** The path of a plain click on a link to one of our own screens, else null. */
function innerPath(event) {
  if (event.defaultPrevented || event.button !== 0 || event.metaKey || event.ctrlKey || event.shiftKey || event.altKey) return null;
  const link = event.target.closest?.('a[href]');
  if (!link || link.target || link.origin !== location.origin || !link.pathname.startsWith('/app/')) return null;
  return link.pathname;
}
