// Controls that pages with one view and pages with several share.

/** Let the choice of a map colour every view, and start with the one that is chosen. */
export function bindMaps(root, views) {
  const choose = (map) => {
    for (const view of views) view.show(map || null);
    for (const scale of root.querySelectorAll('[data-scale]')) scale.hidden = scale.dataset.scale !== map;
  };
  for (const choice of root.querySelectorAll('input[name=map]')) choice.addEventListener('change', () => choose(choice.value));
  choose(root.querySelector('input[name=map]:checked').value);
}

/** Let the buttons turn the first view; linked ones follow it. */
export function bindLooks(root, views) {
  for (const button of root.querySelectorAll('button[data-look]')) {
    button.addEventListener('click', () => {
      for (const view of views) view.pin(null);
      views[0].look(button.dataset.look);
    });
  }
}

/** Let the slider say how opaque the limb is in every view, and start where it stands. */
export function bindLimb(root, views) {
  const slider = root.querySelector('#limb-opacity');
  const set = () => views.forEach((view) => view.limb(slider.value / 100));
  slider.addEventListener('input', set);
  set();
}

/** What lies under the pointer, in words. */
export function sentence({ part, values }, words) {
  const told = Object.entries(values).map(([map, value]) => {
    const { name, unit, decimals } = words.maps[map];
    return `${name} ${Number.isFinite(value) ? `${value.toFixed(decimals).replace('.', words.mark)} ${unit}` : words.no_value}`;
  });
  return `${words.parts[part]}: ${told.join(', ')}`;
}

/** A bar of a round number of millimetres, as long as the view makes it. */
export function drawBar(bar, view) {
  const lengths = [1, 2, 5, 10, 20, 50, 100, 200];
  const most = 140 * view.mmPerPixel();
  const length = lengths.filter((each) => each <= most).at(-1) ?? 1;
  bar.style.width = `${length / view.mmPerPixel()}px`;
  bar.textContent = `${length} mm`;
}
