/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Boards as they mostly lie on a bench: a third of the values unread, one chip nobody knows, two or three conditions. The readings are those of a board
 * whose parts lie within their tolerance, with the fault that each test names or none, rounded as a meter does; what the verdict has to say follows
 * from which fault that was. */
#include "support/exam.h"
#include "support/near.h"

#include <string.h>

#define judge ml_exam_judge_readings

static const char BRIDGE[]
  = "meterleaf 1\nboard \"Turnout motor bridge\"\nreference MINUS\npart D1 diode anode=IN cathode=VM family=schottky\n"
    "part R11 resistor 1=VM 2=V5 value=1k tolerance=5%\npart D2 zener anode=MINUS cathode=V5 voltage=4.7\n"
    "part Q1 pnp collector=MA base=PA emitter=VM\npart Q2 pnp collector=MB base=PB emitter=VM\n"
    "part Q3 npn collector=MA base=NA emitter=MINUS\npart Q4 npn collector=MB base=NB emitter=MINUS\n"
    "part R1 resistor 1=VM 2=PA value=10k tolerance=5%\npart R2 resistor 1=VM 2=PB value=10k tolerance=5%\n"
    "part R3 resistor 1=PA 2=XA value=1k tolerance=5%\npart R4 resistor 1=PB 2=XB\npart Q5 npn collector=XA base=BA emitter=NB\n"
    "part Q6 npn collector=XB base=BB emitter=NA\npart R5 resistor 1=FWD 2=BA value=2k2 tolerance=5%\n"
    "part R6 resistor 1=REV 2=BB value=2k2 tolerance=5%\npart R7 resistor 1=NA 2=MINUS value=4k7 tolerance=5%\n"
    "part R8 resistor 1=NB 2=MINUS\npart M1 coil 1=MA 2=MB show=motor\npart U1 block VDD=V5 VSS=MINUS F=FWD R=REV supply=VDD ground=VSS\n"
    "condition stop\n  supply plus=IN minus=MINUS voltage=12 limit=300m\ncondition fwd\n  supply plus=IN minus=MINUS voltage=12 limit=300m\n"
    "condition rev\n  supply plus=IN minus=MINUS voltage=12 limit=300m\n";
static const char BRIDGE_READ[]
  = "reading u stop red=IN volts=11.97\nreading u stop red=V5 volts=4.717\nreading u stop red=MA volts=0.0235\n"
    "reading u stop red=MB volts=0.0235\nreading u stop red=PA volts=11.67\nreading u stop red=PB volts=11.67\n"
    "reading u stop red=NA volts=0.0000\nreading u stop red=XA volts=11.67\nreading u stop red=XB volts=11.67\n"
    "reading u stop red=BB volts=0.0000\nreading u stop red=FWD volts=0.0000\nreading u stop red=REV volts=0.0000\n"
    "reading u stop supply=1 amps=0.0069 volts=11.99\nreading u fwd red=IN volts=11.97\nreading u fwd red=VM volts=11.53\n"
    "reading u fwd red=MA volts=11.49\nreading u fwd red=MB volts=0.0401\nreading u fwd red=PA volts=10.82\n"
    "reading u fwd red=PB volts=11.52\nreading u fwd red=NA volts=0.0000\nreading u fwd red=NB volts=0.710\n"
    "reading u fwd red=XA volts=0.752\nreading u fwd red=XB volts=11.52\nreading u fwd red=BA volts=1.370\n"
    "reading u fwd red=BB volts=0.0000\nreading u fwd red=REV volts=0.0000\nreading u fwd supply=1 amps=0.0886 volts=11.99\n"
    "reading u rev red=IN volts=11.97\nreading u rev red=VM volts=11.53\nreading u rev red=V5 volts=4.669\n"
    "reading u rev red=MA volts=0.0401\nreading u rev red=PA volts=11.52\nreading u rev red=NA volts=0.710\n"
    "reading u rev red=NB volts=0.0000\nreading u rev red=XA volts=11.52\nreading u rev red=XB volts=0.754\n"
    "reading u rev red=BA volts=0.0000\nreading u rev red=BB volts=1.370\nreading u rev red=FWD volts=0.0000\n"
    "reading u rev red=REV volts=4.508\nreading u rev supply=1 amps=0.0890 volts=11.99\n";

static const char CROWBAR[]
  = "meterleaf 1\nboard \"Supply with crowbar\"\nreference MINUS\npart F1 fuse 1=IN 2=VIN\n"
    "part C1 capacitor plus=VIN minus=MINUS value=470u\npart Q1 npn collector=VIN base=CTL emitter=V5\npart R1 resistor 1=VIN 2=CTL\n"
    "part Q2 npn collector=CTL base=ADJ emitter=ZREF\npart D2 zener anode=MINUS cathode=ZREF\n"
    "part R2 resistor 1=V5 2=ZREF value=1k tolerance=5%\npart R3 resistor 1=V5 2=ADJ\npart R4 resistor 1=ADJ 2=MINUS value=4k7 tolerance=1%\n"
    "part C2 capacitor plus=V5 minus=MINUS value=100u\npart D3 zener anode=SG cathode=V5\npart R5 resistor 1=SG 2=GATE\n"
    "part R6 resistor 1=GATE 2=MINUS value=1k tolerance=5%\npart X1 thyristor anode=V5 cathode=MINUS gate=GATE\npart R7 resistor 1=Q 2=LA\n"
    "part LED1 led anode=LA cathode=MINUS colour=green\npart U1 block VCC=V5 GND=MINUS Q=Q supply=VCC ground=GND\ncondition idle\n"
    "  supply plus=IN minus=MINUS voltage=9 limit=400m\ncondition loaded\n  supply plus=IN minus=MINUS voltage=9 limit=400m\n"
    "  load plus=V5 minus=MINUS value=68\n";
static const char CROWBAR_READ[]
  = "reading u idle red=IN volts=3.187\nreading u idle red=VIN volts=3.029\nreading u idle red=CTL volts=1.653\n"
    "reading u idle red=V5 volts=0.906\nreading u idle red=ZREF volts=0.906\nreading u idle red=ADJ volts=0.615\n"
    "reading u idle red=SG volts=0.0000\nreading u idle red=LA volts=0.0000\nreading u idle supply=1 amps=0.3995 volts=3.18\n"
    "reading u loaded red=IN volts=3.185\nreading u loaded red=VIN volts=3.027\nreading u loaded red=CTL volts=1.651\n"
    "reading u loaded red=ADJ volts=0.613\nreading u loaded red=SG volts=0.0000\nreading u loaded red=GATE volts=0.0000\n"
    "reading u loaded red=LA volts=0.904\nreading u loaded supply=1 amps=0.3995 volts=3.18\n";

static const char CROWBAR_FIRED[]
  = "reading u idle red=IN volts=3.674\nreading u idle red=VIN volts=3.595\nreading u idle red=CTL volts=1.649\nreading u idle red=V5 volts=0.903\n"
    "reading u idle red=ADJ volts=0.615\nreading u idle red=ZREF volts=0.904\nreading u idle red=SG volts=0.0000\n"
    "reading u idle red=GATE volts=0.0000\nreading u idle red=Q volts=0.4521\nreading u idle red=LA volts=0.4521\n"
    "reading u idle supply=1 amps=0.3996 volts=3.67\nreading u loaded red=IN volts=3.669\nreading u loaded red=VIN volts=3.584\n"
    "reading u loaded red=CTL volts=1.646\nreading u loaded red=V5 volts=0.901\nreading u loaded red=ADJ volts=0.613\n"
    "reading u loaded red=ZREF volts=0.902\nreading u loaded red=SG volts=0.0000\nreading u loaded red=GATE volts=0.0000\n"
    "reading u loaded red=Q volts=0.4508\nreading u loaded red=LA volts=0.4506\nreading u loaded supply=1 amps=0.3996 volts=3.67\n";

static const char BATTERY[]
  = "meterleaf 1\nboard \"Battery lights\"\nreference MINUS\npart F1 fuse 1=BAT 2=BF\npart D1 diode anode=BF cathode=VB\n"
    "part R1 resistor 1=VB 2=REF value=1k tolerance=5%\npart U1 shunt cathode=REF anode=MINUS reference=REF\n"
    "part R2 resistor 1=VB 2=DIV value=33k tolerance=1%\npart R3 resistor 1=DIV 2=MINUS value=8k2 tolerance=1%\n"
    "part R4 resistor 1=REF 2=T1 value=1k tolerance=5%\npart R5 resistor 1=T1 2=T2 value=1k tolerance=5%\n"
    "part R6 resistor 1=T2 2=MINUS value=10k tolerance=5%\npart R7 resistor 1=VB 2=L1 value=1k tolerance=5%\n"
    "part LED1 led anode=L1 cathode=O1\npart R8 resistor 1=VB 2=L2\npart LED2 led anode=L2 cathode=O2\n"
    "part R9 resistor 1=VB 2=L3 value=2k2 tolerance=5%\npart LED3 led anode=L3 cathode=MINUS colour=red\n"
    "part U2 block V=VB G=MINUS IN=DIV RA=T1 RB=T2 QA=O1 QB=O2 supply=V ground=G\ncondition full\n"
    "  supply plus=BAT minus=MINUS voltage=13.2 limit=300m\ncondition half\n  supply plus=BAT minus=MINUS voltage=11.6 limit=300m\n"
    "condition low\n  supply plus=BAT minus=MINUS voltage=10.2 limit=300m\n";
static const char BATTERY_READ[]
  = "reading u full red=BAT volts=13.19\nreading u full red=BF volts=13.18\nreading u full red=VB volts=12.46\n"
    "reading u full red=DIV volts=2.468\nreading u full red=T1 volts=2.318\nreading u full red=T2 volts=2.096\n"
    "reading u full red=L1 volts=2.416\nreading u full red=O1 volts=0.3181\nreading u full red=O2 volts=0.3202\n"
    "reading u full supply=1 amps=0.0350 volts=13.17\nreading u half red=VB volts=10.90\nreading u half red=REF volts=2.535\n"
    "reading u half red=DIV volts=2.159\nreading u half red=T2 volts=2.096\nreading u half red=O1 volts=9.30\n"
    "reading u half red=L2 volts=2.371\nreading u half red=O2 volts=0.2654\nreading u half red=L3 volts=1.693\n"
    "reading u half supply=1 amps=0.0217 volts=11.57\nreading u low red=BAT volts=10.19\nreading u low red=VB volts=9.55\n"
    "reading u low red=REF volts=2.535\nreading u low red=DIV volts=1.890\nreading u low red=T2 volts=2.096\n"
    "reading u low red=L1 volts=9.55\nreading u low red=O1 volts=7.96\nreading u low red=L2 volts=9.55\nreading u low red=O2 volts=7.94\n"
    "reading u low red=L3 volts=1.684\nreading u low supply=1 amps=0.0114 volts=10.17\n";

static const char LINKED[]
  = "meterleaf 1\nboard \"Battery lights, other values unread\"\nreference MINUS\npart F1 fuse 1=BAT 2=BF\n"
    "part D1 diode anode=BF cathode=VB\npart R1 resistor 1=VB 2=REF\npart U1 shunt cathode=REF anode=MINUS reference=REF\n"
    "part R2 resistor 1=VB 2=DIV value=33k tolerance=1%\npart R3 resistor 1=DIV 2=MINUS\npart R4 resistor 1=REF 2=T1 value=1k tolerance=5%\n"
    "part R5 resistor 1=T1 2=T2 value=1k tolerance=5%\npart R6 resistor 1=T2 2=MINUS value=10k tolerance=5%\npart R7 resistor 1=VB 2=L1\n"
    "part LED1 led anode=L1 cathode=O1 colour=green\npart R8 resistor 1=VB 2=L2 value=1k tolerance=5%\n"
    "part LED2 led anode=L2 cathode=O2 colour=yellow\npart R9 resistor 1=VB 2=L3 value=2k2 tolerance=5%\n"
    "part LED3 led anode=L3 cathode=MINUS colour=red\npart U2 block V=VB G=MINUS IN=DIV RA=T1 RB=T2 QA=O1 QB=O2 supply=V ground=G\n"
    "condition full\n  supply plus=BAT minus=MINUS voltage=13.2 limit=300m\ncondition half\n"
    "  supply plus=BAT minus=MINUS voltage=11.6 limit=300m\ncondition low\n  supply plus=BAT minus=MINUS voltage=10.2 limit=300m\n";
static const char LINKED_READ[]
  = "reading u full red=BF volts=13.17\nreading u full red=T1 volts=2.298\nreading u full red=L1 volts=2.476\n"
    "reading u full red=O1 volts=0.3331\nreading u full red=L2 volts=2.409\nreading u full red=O2 volts=0.3297\n"
    "reading u full red=L3 volts=1.861\nreading u full supply=1 amps=0.0363 volts=13.20\nreading u half red=BAT volts=11.59\n"
    "reading u half red=BF volts=11.58\nreading u half red=VB volts=10.83\nreading u half red=REF volts=2.509\n"
    "reading u half red=L1 volts=2.404\nreading u half red=O1 volts=0.2743\nreading u half red=L2 volts=2.339\n"
    "reading u half red=O2 volts=0.2720\nreading u half supply=1 amps=0.0309 volts=11.60\nreading u low red=BAT volts=10.19\n"
    "reading u low red=BF volts=10.18\nreading u low red=VB volts=9.44\nreading u low red=T2 volts=2.083\nreading u low red=L1 volts=2.344\n"
    "reading u low red=O1 volts=0.2265\nreading u low red=L2 volts=2.280\nreading u low red=L3 volts=1.841\n"
    "reading u low supply=1 amps=0.0262 volts=10.20\n";

static const char TIMER[]
  = "meterleaf 1\nboard \"Fan timer\"\nreference MINUS\npart D1 diode anode=PACK cathode=V12\n"
    "part C1 capacitor plus=V12 minus=MINUS value=220u\npart R1 resistor 1=V12 2=V5 power=500m\n"
    "part D2 zener anode=MINUS cathode=V5 voltage=5.1\npart C2 capacitor plus=V5 minus=MINUS value=47u\npart S1 switch 1=TRIG 2=MINUS\n"
    "part R2 resistor 1=V5 2=TRIG value=10k tolerance=5%\npart R3 resistor 1=V5 2=RC value=100k tolerance=5%\n"
    "part C3 capacitor plus=RC minus=MINUS value=100u\npart R4 resistor 1=OUT 2=BASE value=3k3 tolerance=5%\n"
    "part R5 resistor 1=BASE 2=MINUS value=22k tolerance=5%\npart Q1 npn collector=COIL base=BASE emitter=MINUS\n"
    "part K1 coil 1=V12 2=COIL show=relay\npart D3 diode anode=COIL cathode=V12\npart R6 resistor 1=OUT 2=LA\n"
    "part LED1 led anode=LA cathode=MINUS colour=yellow\npart U1 block 8=V5 1=MINUS 2=TRIG 3=OUT 6=RC supply=8 ground=1\ncondition waiting\n"
    "  supply plus=PACK minus=MINUS voltage=12 limit=250m\ncondition timing\n  supply plus=PACK minus=MINUS voltage=12 limit=250m\n"
    "  set S1 closed\n";
static const char TIMER_READ[]
  = "reading u waiting red=PACK volts=12.03\nreading u waiting red=V12 volts=11.34\nreading u waiting red=TRIG volts=5.401\n"
    "reading u waiting red=RC volts=0.0000\nreading u waiting red=OUT volts=0.0000\nreading u waiting red=BASE volts=0.0000\n"
    "reading u waiting red=COIL volts=11.34\nreading u waiting red=LA volts=0.0000\nreading u waiting supply=1 amps=0.0182 volts=12.01\n"
    "reading u timing red=PACK volts=12.03\nreading u timing red=V12 volts=11.25\nreading u timing red=V5 volts=5.370\n"
    "reading u timing red=TRIG volts=0.0000\nreading u timing red=RC volts=0.0000\nreading u timing red=OUT volts=4.754\n"
    "reading u timing red=BASE volts=0.686\nreading u timing red=COIL volts=0.0744\nreading u timing supply=1 amps=0.0535 volts=12.01\n";

/* Its lamp stands the wrong way round: no current, so both ends of R1 are at the chip's 5 V. */
static const char LAMP[]
  = "meterleaf 1\nboard \"Relay with a lamp, fed either way round\"\nreference MINUS\n"
    "part D1 diode anode=FEED cathode=VPLUS family=schottky\npart D2 diode anode=RETURN cathode=VPLUS family=schottky\n"
    "part D3 diode anode=MINUS cathode=FEED family=schottky\npart D4 diode anode=MINUS cathode=RETURN family=silicon\n"
    "part U1 block 1=VPLUS 2=MINUS 3=V5_1\npart C1 capacitor plus=V5_1 minus=MINUS\n"
    "part R1 resistor 1=V5_1 2=L2 value=390R tolerance=5%\npart LED1 led anode=L2 cathode=MINUS colour=red\n"
    "part U2 block 1=V5_1 2=MINUS 3=IN3 4=OUT4 supply=1 ground=2\npart R2 resistor 1=V5_1 2=IN3 value=10k tolerance=5%\n"
    "part R3 resistor 1=OUT4 2=B5\npart R4 resistor 1=B5 2=MINUS value=10k tolerance=5%\n"
    "part Q1 npn collector=K6 base=B5 emitter=MINUS\npart K1 coil 1=VPLUS 2=K6 resistance=680R show=relay\n"
    "part D5 diode anode=K6 cathode=VPLUS family=silicon\ncondition c1\n  supply plus=FEED minus=RETURN voltage=24 limit=500m\n"
    "condition c2\n  supply plus=RETURN minus=FEED voltage=24 limit=500m\n";
static const char LAMP_READ[]
  = "reading u c1 red=FEED volts=23.19\nreading u c1 red=VPLUS volts=22.80\nreading u c1 red=RETURN volts=-0.803\n"
    "reading u c1 red=V5_1 volts=5.131\nreading u c1 red=L2 volts=5.131\nreading u c1 red=IN3 volts=5.123\n"
    "reading u c1 red=OUT4 volts=5.077\nreading u c1 red=B5 volts=0.734\nreading u c1 red=K6 volts=0.0872\n"
    "reading u c1 supply=1 amps=0.03869\nreading u c2 red=FEED volts=-0.4146\nreading u c2 red=VPLUS volts=23.17\n"
    "reading u c2 red=RETURN volts=23.57\nreading u c2 red=V5_1 volts=5.131\nreading u c2 red=L2 volts=5.131\n"
    "reading u c2 red=IN3 volts=5.123\nreading u c2 red=OUT4 volts=5.077\nreading u c2 red=B5 volts=0.734\n"
    "reading u c2 red=K6 volts=0.0877\nreading u c2 supply=1 amps=0.03938\n";

/* Sound; without a supply the regulator that nobody knows takes an ohmmeter's few tenths of a volt for 236 ohm. */
static const char TRAY[]
  = "meterleaf 1\nboard \"Lamps of a seed tray\"\nreference MINUS\npart D1 diode anode=FEED cathode=VIN family=schottky\n"
    "part U1 block 1=VIN 2=MINUS 3=V5_1\npart C1 capacitor plus=V5_1 minus=MINUS\n"
    "part R1 resistor 1=V5_1 2=B2 value=10k tolerance=5%\npart R2 resistor 1=B2 2=DRV4 value=2k2 tolerance=5%\n"
    "part S1 switch 1=DRV4 2=MINUS\npart Q1 pnp collector=K3 base=B2 emitter=V5_1\npart R3 resistor 1=K3 2=L5\n"
    "part LED1 led anode=L5 cathode=MINUS colour=blue\npart R4 resistor 1=V5_1 2=L6\n"
    "part LED2 led anode=L6 cathode=MINUS colour=blue\ncondition c1\n  supply plus=FEED minus=MINUS voltage=12 limit=500m\n"
    "  set S1 open\ncondition c2\n  supply plus=FEED minus=MINUS voltage=12 limit=500m\n  set S1 closed\ncondition cold\n";
static const char TRAY_READ[]
  = "reading u c1 red=FEED volts=12.04\nreading u c1 red=VIN volts=11.74\nreading u c1 red=V5_1 volts=5.072\n"
    "reading u c1 red=B2 volts=5.067\nreading u c1 red=DRV4 volts=5.066\nreading u c1 red=K3 volts=0.0050\n"
    "reading u c1 red=L5 volts=0.0050\nreading u c1 red=L6 volts=2.903\nreading u c1 supply=1 amps=0.00685\n"
    "reading u c2 red=FEED volts=12.04\nreading u c2 red=VIN volts=11.71\nreading u c2 red=V5_1 volts=5.072\n"
    "reading u c2 red=B2 volts=4.428\nreading u c2 red=DRV4 volts=0.0000\nreading u c2 red=K3 volts=5.050\n"
    "reading u c2 red=L5 volts=3.077\nreading u c2 red=L6 volts=2.903\nreading u c2 supply=1 amps=0.01383\n"
    "reading u cold red=FEED ohms=504.9\nreading u cold red=VIN ohms=235.7\nreading u cold red=V5_1 ohms=58280000\n"
    "reading u cold red=B2 ohms=58290000\nreading u cold red=DRV4 ohms=58290000\nreading u cold red=K3 ohms=OL\n"
    "reading u cold red=L5 ohms=OL\nreading u cold red=L6 ohms=58280000\n";

/* Both sound; the good one's regulator takes about twice as much for itself. */
static const char TRAY_BESIDE[]
  = "reading u c1 red=FEED volts=11.99\nreading u c1 red=VIN volts=11.67\nreading u c1 red=V5_1 volts=4.866\n"
    "reading u c1 red=B2 volts=4.862\nreading u c1 red=DRV4 volts=4.861\nreading u c1 red=K3 volts=0.0048\n"
    "reading u c1 red=L5 volts=0.0048\nreading u c1 red=L6 volts=2.919\nreading u c1 supply=1 amps=0.00686\n"
    "reading u c2 red=FEED volts=11.99\nreading u c2 red=VIN volts=11.64\nreading u c2 red=V5_1 volts=4.866\n"
    "reading u c2 red=B2 volts=4.193\nreading u c2 red=DRV4 volts=0.0000\nreading u c2 red=K3 volts=4.850\n"
    "reading u c2 red=L5 volts=2.981\nreading u c2 red=L6 volts=2.919\nreading u c2 supply=1 amps=0.01344\nunit g good\n"
    "reading g c1 red=FEED volts=12.01\nreading g c1 red=VIN volts=11.69\nreading g c1 red=V5_1 volts=5.041\n"
    "reading g c1 red=B2 volts=5.036\nreading g c1 red=DRV4 volts=5.035\nreading g c1 red=K3 volts=0.0050\n"
    "reading g c1 red=L5 volts=0.0050\nreading g c1 red=L6 volts=2.846\nreading g c1 supply=1 amps=0.01071\n"
    "reading g c2 red=FEED volts=12.01\nreading g c2 red=VIN volts=11.67\nreading g c2 red=V5_1 volts=5.041\n"
    "reading g c2 red=B2 volts=4.371\nreading g c2 red=DRV4 volts=0.0000\nreading g c2 red=K3 volts=5.025\n"
    "reading g c2 red=L5 volts=2.986\nreading g c2 red=L6 volts=2.846\nreading g c2 supply=1 amps=0.01780\n";

/* R1 is shorted: with S1 closed the 5 V lie on Q1's base and the supply in its limit, far from all that the dictionary has of a chip nobody knows. */
static const char PUMP[]
  = "meterleaf 1\nboard \"Feed pump relay\"\nreference MINUS\npart D1 diode anode=FEED cathode=VIN family=silicon\n"
    "part U1 block 1=VIN 2=MINUS 3=V5_1\npart S1 switch 1=V5_1 2=DRV2\npart R1 resistor 1=DRV2 2=B3 value=5k6 tolerance=5%\n"
    "part R2 resistor 1=B3 2=MINUS\npart Q1 npn collector=K4 base=B3 emitter=MINUS\n"
    "part K1 coil 1=VIN 2=K4 resistance=560R show=relay\npart D2 diode anode=K4 cathode=VIN family=schottky\n"
    "part R3 resistor 1=VIN 2=TAP5 value=6k8 tolerance=5%\npart R4 resistor 1=TAP5 2=MINUS\ncondition c1\n"
    "  supply plus=FEED minus=MINUS voltage=24 limit=500m\n  set S1 open\ncondition c2\n"
    "  supply plus=FEED minus=MINUS voltage=24 limit=500m\n  set S1 closed\n";
static const char PUMP_READ[]
  = "reading u c1 red=FEED volts=23.91\nreading u c1 red=VIN volts=23.22\nreading u c1 red=V5_1 volts=5.005\n"
    "reading u c1 red=DRV2 volts=0.0001\nreading u c1 red=B3 volts=0.0001\nreading u c1 red=K4 volts=23.22\n"
    "reading u c1 red=TAP5 volts=11.55\nreading u c1 supply=1 amps=0.00738\nreading u c2 red=FEED volts=4.419\n"
    "reading u c2 red=VIN volts=2.976\nreading u c2 red=V5_1 volts=0.951\nreading u c2 red=DRV2 volts=0.939\n"
    "reading u c2 red=B3 volts=0.792\nreading u c2 red=K4 volts=0.0024\nreading u c2 red=TAP5 volts=1.481\n"
    "reading u c2 supply=1 amps=0.5004\nunit g good\nreading g c1 red=FEED volts=23.99\nreading g c1 red=VIN volts=23.28\n"
    "reading g c1 red=V5_1 volts=5.103\nreading g c1 red=DRV2 volts=-0.0001\nreading g c1 red=B3 volts=-0.0001\n"
    "reading g c1 red=K4 volts=23.28\nreading g c1 red=TAP5 volts=11.43\nreading g c1 supply=1 amps=0.00882\n"
    "reading g c2 red=FEED volts=23.99\nreading g c2 red=VIN volts=23.16\nreading g c2 red=V5_1 volts=5.103\n"
    "reading g c2 red=DRV2 volts=5.103\nreading g c2 red=B3 volts=0.678\nreading g c2 red=K4 volts=0.0566\n"
    "reading g c2 red=TAP5 volts=11.37\nreading g c2 supply=1 amps=0.05268\n";

static void
assert_nobody_suspect (const MlVerdict *verdict)
{
  for (guint i = 0; i < verdict->n_parts; i++)
    if (verdict->parts[i].verdict == ML_VERDICT_SUSPECT)
      print_error ("%s: %s\n", verdict->job->board->parts[i].name, verdict->sentence);
  for (guint i = 0; i < verdict->n_parts; i++)
    assert_int_not_equal (verdict->parts[i].verdict, ML_VERDICT_SUSPECT);
}

/* At rest the motor floats on leakage between two halves that are off. Nothing that is read elsewhere hangs on that. */
static void
test_sound_bridge_with_a_floating_motor (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (BRIDGE, BRIDGE_READ);

  assert_nobody_suspect (verdict);
  assert_true (verdict->healthy_probability > 0.8);
}

/* D2 open: the output rose until the crowbar fired, and the supply is in its limit. That reads as a sound board whose crowbar has fired for no reason. */
static void
test_fired_crowbar_is_no_sound_board (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (CROWBAR, CROWBAR_READ);

  assert_true (verdict->healthy_probability < 0.5);
}

/* Q2 open at its collector; readings as computed for a board with R1 1k, R3 2k2, R5 100 ohm, D2 2.7 V, D3 5.6 V. Once the crowbar has fired it holds
 * itself, and nothing tells any more what brought the output up: D2, D3 and the thyristor may have, too, and none of them is to be convicted. */
static void
test_what_fired_a_crowbar_is_left_open (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (CROWBAR, CROWBAR_FIRED);
  gboolean suspected = FALSE;

  for (guint i = 0; i < verdict->n_parts; i++)
    {
      gboolean is_q2 = strcmp (verdict->job->board->parts[i].name, "Q2") == 0;
      suspected |= is_q2 && verdict->parts[i].verdict == ML_VERDICT_SUSPECT;
      assert_true (is_q2 || verdict->parts[i].probability < 0.5);
    }
  assert_true (suspected);
  assert_true (verdict->healthy_probability < 0.1);
}

/* Two comparators, half a milliampere each beside thirty of lamps: a chip that draws little is not one without its supply. */
static void
test_chip_that_draws_little_has_its_supply (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (BATTERY, BATTERY_READ);

  assert_nobody_suspect (verdict);
  assert_true (verdict->healthy_probability > 0.5);
}

/* R2 too low, which no reading tells from R3's unread value: both outputs rest at ground whatever the battery gives, a third of a volt each. */
static void
test_outputs_at_ground_are_not_linked (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (LINKED, LINKED_READ);

  for (guint i = 0; i < verdict->n_links; i++)
    assert_int_not_equal (verdict->links[i].verdict, ML_VERDICT_SUSPECT);
}

/* What is likelier than a sound board has something that speaks for it, if only all readings together. */
static void
test_what_leads_is_not_said_to_have_nothing_for_it (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (TIMER, TIMER_READ);
  const MlExplanation *first = &verdict->explanations[0];

  assert_int_equal (first->explains, ML_EXPLAINS_FAULT);
  assert_null (strstr (first->reasons[0], "none for it"));
}

/* The chips are found where they are only by a fit of another fault, a long way from where they were looked for; every fault is looked at again there. */
static void
test_far_better_fit_is_where_all_are_judged (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (LAMP, LAMP_READ);

  for (guint i = 0; i < verdict->n_parts; i++)
    if (verdict->parts[i].verdict == ML_VERDICT_SUSPECT)
      assert_string_equal (verdict->job->board->parts[i].name, "LED1");
  assert_int_equal (verdict->explanations[0].explains, ML_EXPLAINS_FAULT);
  assert_non_null (strstr (verdict->explanations[0].title, "LED1"));
}

static void
test_more_is_fitted_before_two_faults_are_thought_of (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (PUMP, PUMP_READ);

  assert_true (verdict->parts[ml_board_find_part (verdict->job->board, "R1")].probability > 0.15);
}

/* A chip is taken for 10 kohm on the cold board; on the range of a meter that shows 236 ohm that much was over-range, with no way back. */
static void
test_chip_is_found_far_below_an_ohmmeters_range (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (TRAY, TRAY_READ);

  assert_nobody_suspect (verdict);
  assert_true (verdict->healthy_probability > 0.8);
  assert_non_null (strstr (verdict->explanations[0].reasons[0], "every reading is what the board as drawn gives")); /* over-range and 58 Mohm, too */
}

/* What a regulator takes for itself is one thing that two of a kind need not have in common (data sheets: typically 5 mA, at most 8). */
static void
test_regulators_of_a_kind_draw_differently (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (TRAY, TRAY_BESIDE);

  assert_nobody_suspect (verdict);
  assert_true (verdict->healthy_probability > 0.7);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_sound_bridge_with_a_floating_motor),    cmocka_unit_test (test_fired_crowbar_is_no_sound_board),
    cmocka_unit_test (test_what_fired_a_crowbar_is_left_open),
    cmocka_unit_test (test_chip_that_draws_little_has_its_supply), cmocka_unit_test (test_outputs_at_ground_are_not_linked),
    cmocka_unit_test (test_what_leads_is_not_said_to_have_nothing_for_it),
    cmocka_unit_test (test_far_better_fit_is_where_all_are_judged),
    cmocka_unit_test (test_more_is_fitted_before_two_faults_are_thought_of),
    cmocka_unit_test (test_regulators_of_a_kind_draw_differently),
    cmocka_unit_test (test_chip_is_found_far_below_an_ohmmeters_range),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
