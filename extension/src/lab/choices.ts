/** The settings, for every open file. */

import type { ISettingRegistry } from '@jupyterlab/settingregistry';

import { choicesOf, USUAL, type Choices } from '../model/choices.js';
import { takePalette } from '../model/palette.js';
import { counted, type Dispose } from '../view/listening.js';

type Heard = (now: Choices, before: Choices) => void;

export class Chosen {
  /** Follow the settings of a plugin, if there are any; until they are known, all is as usual. */
  constructor(registry: ISettingRegistry | null, plugin: string) {
    void registry?.load(plugin).then(
      settings => {
        const take = () => {
          this.take(choicesOf(settings.composite));
        };
        settings.changed.connect(take);
        take();
      },
      (reason: unknown) => {
        console.warn(`No settings for ${plugin}, so all is as usual:`, reason);
      }
    );
  }

  get now(): Choices {
    return this.choices;
  }

  /** Hear of every change. */
  listen(heard: Heard): Dispose {
    this.heard.add(heard);
    return counted(() => {
      this.heard.delete(heard);
    });
  }

  private take(now: Choices): void {
    const before = this.choices;
    this.choices = now;
    takePalette(now.palette);
    for (const heard of [...this.heard]) {
      heard(now, before);
    }
  }

  private choices: Choices = USUAL;
  private readonly heard = new Set<Heard>();
}
