// Looks at the page as it stands and returns what is wrong with it, one sentence each.
const wrong = [];
const phone = window.innerWidth < 600;
const root = document.documentElement;
const describe = (e) => `<${e.tagName.toLowerCase()}${e.id ? ' #' + e.id : ''}${e.name ? ' ' + e.name : ''}> “${(e.textContent || e.value || '').trim().replace(/\s+/g, ' ').slice(0, 40)}”`;
const shown = (e) => e.checkVisibility({ visibilityProperty: true, contentVisibilityAuto: true }) && e.getClientRects().length > 0;

// Reflow (WCAG 2.2, 1.4.10): nothing makes the page scroll sideways.
if (root.scrollWidth > root.clientWidth) {
  const scrolls = (e) => { for (let p = e; p; p = p.parentElement) if (['auto', 'scroll', 'hidden', 'clip'].includes(getComputedStyle(p).overflowX)) return true; return false; };
  const wide = [...document.body.querySelectorAll('*')].filter((e) => e.getBoundingClientRect().right > root.clientWidth + 1 && !scrolls(e));
  wrong.push(`overflow: ${root.scrollWidth} px in ${root.clientWidth} px: ${wide.slice(0, 3).map(describe).join(', ')}`);
}

const headings = document.querySelectorAll('h1').length;
if (headings !== 1) wrong.push(`headings: ${headings} of the first level`);

const ids = [...document.querySelectorAll('[id]')].map((e) => e.id);
for (const id of new Set(ids.filter((id, at) => ids.indexOf(id) !== at))) wrong.push(`id used twice: ${id}`);
for (const e of document.querySelectorAll('a[href^="#"]')) {
  const to = e.getAttribute('href').slice(1);
  if (to && !document.getElementById(decodeURIComponent(to))) wrong.push(`link to nowhere: ${describe(e)} #${to}`);
}
for (const e of document.querySelectorAll('[tabindex]')) if (e.tabIndex > 0) wrong.push(`order of focus forced: ${describe(e)}`);

// Nothing in a page may need what the content policy forbids (OWASP ASVS 5.0, 3.4.3).
for (const e of document.querySelectorAll('*')) {
  for (const a of e.attributes) if (a.name === 'style' || a.name.startsWith('on')) wrong.push(`inline ${a.name}: ${describe(e)}`);
}

// Targets (WCAG 2.2, 2.5.8): 24 px, links in sentences excepted; 44 px for what a thumb meets first on a phone (our own aim).
for (const e of document.querySelectorAll('a[href], button, input:not([type=hidden]), select, textarea, summary')) {
  if (!shown(e)) continue;
  const target = e.matches('[type=radio], [type=checkbox]') ? e.closest('label') || e : e;
  // Links in a line of words; whether others stand too near them is judged by the rules engine.
  if (e.matches('a') && getComputedStyle(e).display === 'inline' && !e.matches('nav a')) continue;
  if (e.matches('.skip') && e !== document.activeElement) continue;
  const { width, height } = target.getBoundingClientRect();
  const least = phone && e.matches('button, select, summary, input, textarea, nav a, .button') ? 44 : 24;
  if (height < least - 0.5 || width < 24) wrong.push(`target ${Math.round(width)} × ${Math.round(height)} px: ${describe(e)}`);
}

// Words one can read: 12 px and more, also in pictures; a label's are measured for paper.
const words = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
const small = new Set();
while (words.nextNode()) {
  const e = words.currentNode.parentElement;
  if (words.currentNode.data.trim() && shown(e) && !e.closest('sub, sup, .label') && parseFloat(getComputedStyle(e).fontSize) < 12) small.add(describe(e));
}
for (const e of small) wrong.push(`small print: ${e}`);

// Contrast (WCAG 2.2, 1.4.3) of words in pictures, which the rules engine does not judge: 4.5 against the shape beneath them.
const channels = (css) => (css.match(/[\d.]+/g) || []).map(Number);
const light = (css) => { const [r, g, b] = channels(css).slice(0, 3).map((v) => v / 255).map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
const ratio = (a, b) => { const [x, y] = [light(a), light(b)].sort((p, q) => q - p); return (x + 0.05) / (y + 0.05); };
const paper = getComputedStyle(document.body).backgroundColor;
for (const text of document.querySelectorAll('svg text')) {
  if (!shown(text)) continue;
  const box = text.getBoundingClientRect();
  const [x, y] = [box.left + box.width / 2, box.top + box.height / 2];
  const beneath = [...text.ownerSVGElement.querySelectorAll('rect')].filter((r) => { const b = r.getBoundingClientRect(); return b.left <= x && x <= b.right && b.top <= y && y <= b.bottom; }).pop();
  // A shape that lets the paper through is as dark as both make it.
  const cover = beneath ? Number(getComputedStyle(beneath).fillOpacity) : 0;
  const through = beneath ? channels(getComputedStyle(beneath).fill) : [];
  const ground = beneath ? `rgb(${channels(paper).slice(0, 3).map((v, i) => v * (1 - cover) + through[i] * cover).join(' ')})` : paper;
  const contrast = ratio(getComputedStyle(text).fill, ground);
  if (contrast < 4.5) wrong.push(`contrast ${contrast.toFixed(1)} in a picture: ${describe(text)}`);
  if (box.left < -1 || box.right > root.clientWidth + 1) wrong.push(`words cut off in a picture: ${describe(text)}`);
  if (beneath) { const b = beneath.getBoundingClientRect(); if (box.left < b.left - 0.5 || box.right > b.right + 0.5) wrong.push(`words wider than their shape: ${describe(text)}`); }
}
for (const svg of document.querySelectorAll('svg[role=img]')) {
  if (!(svg.getAttribute('aria-label') || svg.querySelector('title'))) wrong.push('a picture without words');
}

const dark = matchMedia('(prefers-color-scheme: dark)').matches;
if (dark !== light(paper) < 0.2) wrong.push(`paper ${paper} in ${dark ? 'the dark' : 'the light'}`);
return wrong;
