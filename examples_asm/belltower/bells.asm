* Chimes from the tone generator, the striker, and the lamp.

* Four notes before the hour.
CHIME   LDU     #NOTES
CHNOTE  LDB     #3              ; two bytes of pitch, one of loudness
CHBYTE  LDA     ,U+
        STA     TONES
        DECB
        BNE     CHBYTE
        BSR     HOLD
        CMPU    #NOTESX
        BNE     CHNOTE
        RTS

NOTES   FCB     $8B,$10,$90
        FCB     $8F,$0D,$90
        FCB     $8E,$0E,$90
        FCB     $8B,$15,$90
NOTESX  EQU     *

SILENCE LDA     #$9F
        STA     TONES
        RTS

* How long a note sounds: about a third of a second.
HOLD    LDX     #38400
HOLDL   LEAX    -1,X
        BNE     HOLDL
        RTS

* One stroke: the solenoid is driven for 30 ms and must then rest.
STRIKE  LDA     #1
        STA     STRIKER
        LDX     #3456
STRIKEL LEAX    -1,X            ; timing: takes 30 ms
        BNE     STRIKEL
        CLR     STRIKER
        RTS

* The lamp is lit for 3.5 s after each stroke.
LAMPON  LDA     #1
        STA     LAMP
        LDY     #35
LAMPT   LDX     #11519          ; a tenth of a second
LAMPU   LEAX    -1,X
        BNE     LAMPU
        LEAY    -1,Y
        BNE     LAMPT
        CLR     LAMP
        RTS
