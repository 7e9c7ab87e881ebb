import django.db.models.deletion
import uuid
from django.db import migrations, models

from people.journal.sql import seal_table


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0007_tyre_cost'),
        ('journal', '0002_walls'),
    ]

    operations = [
        migrations.CreateModel(
            name='DefectStepPhoto',
            fields=[
                ('id', models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ('place', models.PositiveSmallIntegerField()),
                ('photo', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='fleet.photo')),
                ('step', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='further_photos', to='fleet.defectstep')),
            ],
            options={
                'ordering': ['place'],
                'constraints': [models.UniqueConstraint(fields=('step', 'place'), name='fleet_stepphoto_one_a_place', violation_error_message='Two photos of one repair have one place. Send them again.'), models.UniqueConstraint(fields=('step', 'photo'), name='fleet_stepphoto_kept_once', violation_error_message='This photo is kept of this repair already.'), models.CheckConstraint(condition=models.Q(('place__gte', 2), ('place__lte', 6)), name='fleet_stepphoto_six_at_most', violation_error_message='At most six photos are kept of one repair.')],
            },
        ),
        seal_table('fleet_defectstepphoto'),
    ]
