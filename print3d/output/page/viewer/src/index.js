// What pages may use; viewer/README.md says how.
export { canDraw, link, Viewer } from './viewer.js';
export { compare } from './compare.js';
export { decode } from './decode.js';
export { report } from './report.js';
