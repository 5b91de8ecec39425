#include "report/style.h"

namespace samelight::report {

// Pictures lie on a neutral surround of L* 43 (#656565), near the 20 % field that colour appearance models
// assume and neutral as ISO 3664 asks; nothing near them has a colour. Text on it is #f2f2f2 (5.2:1); lesser
// greys stay on darker ground, so that all text keeps 4.5:1 (WCAG 2.1, 1.4.3).
const char kStyle[] = R"css(
:root{color-scheme:dark;--well:#222;--ground:#2b2b2b;--raised:#383838;--line:#454545;--rail:#585858;--easel:#656565;
--one:#f2f2f2;--two:#c8c8c8;--three:#a8a8a8;--fill:#a8a8a8;--over:#fff;--outline:#a8a8a8}
*{box-sizing:border-box}
html{-webkit-text-size-adjust:100%}
body{margin:0;background:var(--ground);color:var(--two);font:14px/1.5 Inter,system-ui,sans-serif;
font-variant-numeric:tabular-nums}
main,header.top,footer{max-width:1720px;margin:0 auto;padding:0 32px}
h1,h2,h3{color:var(--one);margin:0;font-weight:600;line-height:1.25}
h1{font-size:30px;letter-spacing:-.01em}
h2{font-size:20px;margin:56px 0 4px}
h3{font-size:16px}
p{margin:0;max-width:76ch}
b,strong{color:var(--one);font-weight:600}
.name{unicode-bidi:isolate;overflow-wrap:anywhere}
.dim{color:var(--three)}
header.top{padding-top:40px;display:grid;grid-template-columns:minmax(0,1fr) minmax(0,1fr);gap:32px 64px;
align-items:start}
header.top p{margin-top:12px;font-size:16px}
.counts{display:flex;flex-wrap:wrap;gap:16px 40px;margin:28px 0 0;padding:0;list-style:none}
.counts li{line-height:1.3}
.counts b{display:block;font-size:28px;letter-spacing:-.01em}
table{border-collapse:collapse;width:100%}
caption{text-align:left;padding-bottom:8px}
caption b{margin-right:8px}
th,td{text-align:left;padding:5px 16px 5px 0;font-weight:400;vertical-align:middle;border-top:1px solid var(--line)}
th[scope=row]{color:var(--one);white-space:nowrap}
.marks th[scope=row]{width:1%;min-width:14ch}
thead th{border-top:0;color:var(--three);font-size:12px;padding-top:0}
th:last-child,td:last-child{padding-right:0}
.num{text-align:right;white-space:nowrap;width:1%}
.now{color:var(--one);font-weight:600}
.bar{min-width:90px}
.bar svg{display:block;width:100%;height:16px;overflow:visible}
.well{fill:var(--well)}.was{fill:none;stroke:var(--outline);vector-effect:non-scaling-stroke}.kept{fill:var(--fill)}
.over{fill:var(--over)}.mark{stroke:var(--one);stroke-width:1.5;vector-effect:non-scaling-stroke}
.is{white-space:nowrap;width:20ch;min-width:20ch}
.pair{background:var(--raised);margin:16px 0 0;border-radius:4px;overflow:hidden;break-inside:avoid}
.shots{background:var(--easel);padding:16px}
.shots div{display:flex;gap:8px;margin:0 auto;max-width:calc(var(--shapes)*460px)}
figure{margin:0;min-width:0}
figure img,figure .none{display:block;width:100%;background:var(--rail)}
figcaption{color:var(--one);font-size:12px;padding-top:6px;line-height:1.35}
figcaption b{display:block;font-size:13px}
.facts{display:grid;grid-template-columns:minmax(0,5fr) minmax(0,8fr);gap:16px 56px;padding:16px 20px 18px}
.facts h3{margin-bottom:2px}
dl{display:grid;grid-template-columns:max-content 1fr;gap:1px 16px;margin:12px 0 0}
dd{margin:0;color:var(--one)}
.list{list-style:none;margin:16px 0 0;padding:0;display:grid;gap:8px;
grid-template-columns:repeat(auto-fill,minmax(min(440px,100%),1fr))}
.list li{display:flex;background:var(--raised);border-radius:4px;overflow:hidden;break-inside:avoid;min-height:104px}
.list .shot{flex:0 0 168px;background:var(--easel);padding:8px;display:flex;align-items:center;justify-content:center}
.list .shot img{max-width:152px;max-height:120px;display:block}
.list .say{padding:10px 16px 12px;min-width:0}
.list ul{margin:4px 0 0;padding:0;list-style:none;color:var(--one)}
.list ul li{display:block;min-height:0;background:none;border-radius:0;overflow:visible;padding-left:14px;text-indent:-14px}
.list ul li::before{content:"\2013\00a0\00a0"}
.more{margin-top:4px;font-size:12px}
.light{margin-top:24px}
.light .head{display:flex;flex-wrap:wrap;gap:2px 16px;align-items:baseline;padding:0 0 8px}
.strip{background:var(--easel);padding:12px 12px 8px;display:flex;flex-wrap:wrap;gap:4px 3px;align-items:flex-start}
.strip+.strip{padding-top:0}
.strip span{flex:0 0 100%;color:var(--one);font-size:12px;margin-bottom:-1px}
.strip img,.strip i{height:112px;width:auto;display:block;background:var(--rail)}
.strip i{width:150px;font-style:normal;color:var(--one);font-size:11px;padding:6px}
.strip a{display:block;padding-bottom:5px;border-bottom:3px solid transparent}
.strip a.check{border-bottom-color:var(--one)}
.notes{margin:12px 0 0;padding-left:18px;max-width:90ch}
.wide td{vertical-align:top}
footer{padding-top:48px;padding-bottom:64px;font-size:12px;color:var(--three)}
footer p{margin-top:6px;max-width:none}
a{color:inherit}
@media screen and (max-width:1100px){header.top,.facts{grid-template-columns:minmax(0,1fr)}}
@media screen and (max-width:640px){main,header.top,footer{padding-left:12px;padding-right:12px}.shots{padding:8px}
.shots div{flex-direction:column;max-width:none}.shots figure{flex:none!important}.facts{padding:12px}
.list .shot{flex-basis:120px}.list .shot img{max-width:104px}.strip img,.strip i{height:84px}h1{font-size:24px}
.is{white-space:normal;min-width:0;width:auto}}
@media print{@page{size:A4 landscape;margin:11mm}
:root{color-scheme:light;--ground:#fff;--raised:#f2f2f2;--line:#c8c8c8;--one:#111;--two:#333;--three:#555;
--well:#ddd;--fill:#999;--over:#000;--outline:#777}
body{font-size:10px;line-height:1.35}main,header.top,footer{padding:0;max-width:none}
h2{margin-top:20px;break-after:avoid}h2+p{break-after:avoid}h3{font-size:12px}.counts b{font-size:20px}
th,td{padding-top:2px;padding-bottom:2px}dl{margin-top:6px}.bar svg{height:11px}
.shots,.strip,.shot,.bar svg{-webkit-print-color-adjust:exact;print-color-adjust:exact}
.shots{padding:8px}.shots div{max-width:calc(var(--shapes)*72mm)}.facts{padding:8px 12px}.pair{margin-top:10px}
.shots figcaption,.shots figcaption b,.strip span,.strip i{color:#f2f2f2}figcaption{font-size:9px}figcaption b{font-size:10px}
.list{grid-template-columns:1fr 1fr 1fr}.list .shot{flex-basis:104px}.list .shot img{max-width:88px;max-height:80px}
.list li{min-height:0}.strip a.check{border-color:#fff}.strip img,.strip i{height:74px}.strip{break-inside:avoid}
.light .head{break-after:avoid}}
)css";

}  // namespace samelight::report
