// Wires the report page: everything it adds is hidden or absent without scripts, and the page reads without it.

import { decode } from './decode.js';
import { bindLimb, bindLooks, bindMaps, drawBar, sentence } from './controls.js';
import { canDraw, Viewer } from './viewer.js';

/** Start the 3D part of a report; resolves to the Viewer, or null where the browser cannot draw. */
export async function report(root = document) {
  bindPrint(root);
  const stage = root.querySelector('#stage');
  const words = JSON.parse(root.querySelector('#words').textContent);
  if (!stage || !canDraw()) return null;
  const scene = await decode(root.querySelector('script.scene').textContent);
  root.querySelector('#live-3d').hidden = false;
  root.querySelector('#no-live').hidden = true;
  const still = root.querySelector('#no-live figure');
  if (still) root.querySelector('#pictures .figures')?.prepend(still);
  root.querySelector('.controls').open = window.matchMedia('(min-width: 52rem)').matches; // on a telephone cautions come first
  const view = new Viewer(stage, scene, words.scale);
  bindMaps(root, [view]);
  bindLooks(root, [view]);
  bindLimb(root, [view]);
  bindJoints(root, view, words);
  bindPlaces(root, view, words);
  bindProbe(root, view, words);
  for (const box of root.querySelectorAll('input[name=part]')) box.addEventListener('change', () => view.part(box.value, box.checked));
  const bar = root.querySelector('#mm-bar');
  view.on('camera', () => drawBar(bar, view));
  drawBar(bar, view);
  root.documentElement?.setAttribute('data-viewer', 'ready');
  return view;
}

/** On paper every group of findings stands open. */
function bindPrint(root) {
  const folded = () => root.querySelectorAll('details.group:not([open])');
  let opened = [];
  window.addEventListener('beforeprint', () => {
    opened = [...folded()];
    for (const group of opened) group.open = true;
  });
  window.addEventListener('afterprint', () => opened.forEach((group) => { group.open = false; }));
}

function bindJoints(root, view, words) {
  const sliders = [...root.querySelectorAll('input[data-joint]')];
  const all = [...root.querySelectorAll('input[data-all]')];
  const set = (slider, degrees) => {
    const value = Math.min(slider.max, Math.max(slider.min, degrees));
    slider.value = value;
    const joint = view.data.joints[slider.dataset.joint];
    const state = value > joint.freeTo + 0.5 ? words.blocked : words.free;
    const said = `${Math.round(value)}° ${state}`;
    slider.setAttribute('aria-valuetext', said);
    root.querySelector(`output[for="${slider.id}"]`).value = said;
    view.joint(slider.dataset.joint, value);
  };
  for (const slider of sliders) {
    slider.addEventListener('input', () => {
      set(slider, Number(slider.value));
      view.keepInView();
    });
  }
  for (const slider of all) {
    slider.addEventListener('input', () => {
      const said = `${slider.value}°`;
      slider.setAttribute('aria-valuetext', said);
      root.querySelector(`output[for="${slider.id}"]`).value = said;
      const those = sliders.filter((each) => view.data.joints[each.dataset.joint].joint === slider.dataset.all);
      for (const each of those) set(each, Number(slider.value));
      view.keepInView();
    });
  }
  root.querySelector('#joints-reset')?.addEventListener('click', () => {
    for (const slider of sliders) set(slider, view.data.joints[slider.dataset.joint].built);
    for (const slider of all) {
      slider.value = slider.dataset.built;
      root.querySelector(`output[for="${slider.id}"]`).value = `${slider.dataset.built}°`;
    }
  });
  for (const slider of sliders) set(slider, view.data.joints[slider.dataset.joint].built);
}

function bindPlaces(root, view, words) {
  for (const slot of root.querySelectorAll('[data-place]')) {
    const button = document.createElement('button');
    button.type = 'button';
    button.className = 'place';
    button.textContent = words.show_place;
    button.setAttribute('aria-label', `${words.show_place}: ${slot.dataset.what}`);
    button.addEventListener('click', () => {
      root.querySelector('#joints-reset')?.click();
      view.pin(JSON.parse(slot.dataset.place));
      root.querySelector('#value').textContent = `${words.marked}: ${slot.dataset.what}`;
      root.querySelector('#live-3d').scrollIntoView({ block: 'start' });
      view.element.focus({ preventScroll: true });
    });
    slot.append(button);
  }
}

function bindProbe(root, view, words) {
  const place = root.querySelector('#value');
  view.on('probe', (found) => {
    place.textContent = found ? sentence(found, words) : words.point;
  });
  place.textContent = words.point;
}
