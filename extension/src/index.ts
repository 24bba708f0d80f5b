/** The plugins of the extension. */

import { launcher } from './plugins/launcher.js';
import { names } from './plugins/names.js';
import { saved } from './plugins/saved.js';
import { spectrum } from './plugins/spectrum.js';

export default [spectrum, launcher, names, saved];
