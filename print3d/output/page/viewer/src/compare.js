// Wires a page of variants side by side: one view each, linked, with the same map, the same scale and the same limb.

import { bindLimb, bindLooks, bindMaps, drawBar, sentence } from './controls.js';
import { decode } from './decode.js';
import { canDraw, link, Viewer } from './viewer.js';

/** Start the views of a comparison; resolves to them, or to null where the browser cannot draw. */
export async function compare(root = document) {
  const live = root.querySelector('#live-3d');
  if (!live || !canDraw()) return null;
  const words = JSON.parse(root.querySelector('#words').textContent);
  const scenes = await Promise.all([...root.querySelectorAll('script.scene')].map((script) => decode(script.textContent)));
  live.hidden = false;
  root.querySelector('#still').open = false;
  const places = [...live.querySelectorAll('[data-variant]')];
  const views = scenes.map((scene, k) => new Viewer(places[k].querySelector('.stage'), scene, words.scale));
  views.forEach((view, k) => {
    const [bar, value] = ['.mm-bar', '.value'].map((each) => places[k].querySelector(each));
    view.on('probe', (found) => { value.textContent = found ? sentence(found, words) : ''; });
    view.onDraw = () => drawBar(bar, view);
  });
  bindMaps(root, views);
  bindLooks(root, views);
  bindLimb(root, views);
  link(views);
  root.documentElement.setAttribute('data-viewer', 'ready');
  return views;
}
